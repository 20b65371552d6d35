// Sorts, filters and adds up the cars, draws the charts, and lets list, charts and tables follow one choice.
// Everything from outside is compared and shown as text. The only HTML that is put in is the page's own: tickets of cars
// far down the list, written and escaped with the page.
(() => {
  "use strict";
  const { config, specs } = JSON.parse(document.getElementById("charts").textContent);
  for (const spec of Object.values(specs)) {
    for (const [name, { heads, rows }] of Object.entries(spec.datasets)) {
      spec.datasets[name] = rows.map((row) => Object.fromEntries(row.map((one, place) => [heads[place], one])));
    }
  }
  const said = JSON.parse(document.getElementById("words").textContent);
  const filled = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => String(values[name]));
  const byId = (id) => document.getElementById(id);
  const all = (selector) => [...document.querySelectorAll(selector)];
  const money = (amount) => filled(said.money, { amount: Math.round(amount).toLocaleString("en-US") });
  const exact = (amount) => filled(said.money, { amount: amount.toLocaleString("en-US", { minimumFractionDigits: 2, maximumFractionDigits: 2 }).replace(/\.00$/, "") });
  const hours = (minutes) => {
    const whole = Math.round(minutes);
    return filled(said.hours, { hours: Math.floor(whole / 60), minutes: String(whole % 60).padStart(2, "0") });
  };

  // ---- the cars ----
  const table = document.querySelector("table.cars");
  // Of thousands of cars most are never looked at: what a car is asked for is made when it is asked.
  class Car {
    constructor(body, place) {
      this.body = body;
      this.place = place;
      this.vehicle = body.dataset.vehicle;
      this.sums = {};
    }
    // Rows far down are put in when they are to be seen; null before they are unpacked.
    get row() {
      if (!this.body.firstElementChild && far) this.body.innerHTML = far[this.vehicle] ?? "";
      return this.body.firstElementChild;
    }
    get button() { return this.row.querySelector(".open"); }
    get choices() { return (this.kinds ??= JSON.parse(this.body.dataset.choices)); }
    get lines() { return (this.steps ??= JSON.parse(this.body.dataset.lines ?? "{}")); }
    get mind() { return "mind" in this.body.dataset; }
    get ticket() { return this.row.nextElementSibling; }
    sum(name) { return (this.sums[name] ??= Number(this.body.dataset[name] ?? 0)); }
    tell(text) {
      if (!this.row || (!text && !this.here)) return;
      this.here ??= this.row.querySelector(".do").appendChild(document.createElement("span"));
      this.here.textContent = text;
    }
  }
  const cars = all("table.cars > tbody[data-vehicle]").map((body, place) => new Car(body, place));
  const groups = new Map(all("table.cars > tbody.group").map((body) => [body.dataset.group, body]));
  const carOf = (inside) => cars.find((car) => car.body === inside.closest("table.cars > tbody"));
  // What is packed is unpacked when it is wanted, or once the list stands and nothing else is to be done.
  async function unpacked(id) {
    const packed = Uint8Array.from(atob(byId(id).textContent), (one) => one.charCodeAt(0));
    return new Response(new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"))).text();
  }

  let far = byId("far") ? null : {};
  let reading = null;

  function farTickets() {
    return (reading ??= unpacked("far").then((text) => { far = JSON.parse(text); }));
  }

  const known = new Set(cars.map((car) => car.vehicle));
  const fields = ["find", "make", "next", "hours", "money", "skill", "family", "part", "code", "car"];
  const field = Object.fromEntries(fields.map((name) => [name, byId(name)]).filter(([, one]) => one));
  let atPoint = []; // cars of a chosen mark in the chart of costs
  let sort = { by: "", down: false };
  const opened = new Set(); // cars whose tickets are open
  let most = said.step;
  const views = new Map(); // the drawn charts, by name

  const value = (name) => (field[name] ? (name === "skill" ? (field[name].checked ? "yes" : "") : field[name].value) : "");
  const KINDS = ["family", "part", "code", "car"];

  function texts(car) {
    if (car.words === undefined) {
      const here = car.body.childElementCount > 0;
      if (!here && far === null) {
        farTickets().then(choose);
        const { make, model, do: doing, clears } = car.body.dataset;
        return `${car.vehicle} ${make} ${model} ${doing} ${clears}`.toLowerCase();
      }
      const away = here ? "" : new DOMParser().parseFromString(far[car.vehicle] ?? "", "text/html").body.textContent;
      car.words = `${car.body.textContent} ${away}`.toLowerCase();
    }
    return car.words;
  }

  function fits(car) {
    const wanted = value("find").trim().toLowerCase();
    return (
      (!value("make") || car.body.dataset.make === value("make")) &&
      (!value("next") || car.body.dataset.heap === value("next")) &&
      (!value("skill") || !car.mind) &&
      (!value("car") || car.vehicle === value("car")) &&
      ["family", "part", "code"].every((kind) => !value(kind) || car.choices[kind].includes(value(kind))) &&
      (!atPoint.length || atPoint.includes(car.vehicle)) &&
      (!wanted || texts(car).includes(wanted))
    );
  }

  // What can be done today: in the recommended order, each car that still fits into the hours and the money for parts
  // and labour, however the rows are sorted.
  function affordable(list) {
    let minutes = Number(value("hours")) > 0 ? Number(value("hours")) * 60 : Infinity;
    let coins = value("money") === "" ? Infinity : Number(value("money"));
    if (minutes === Infinity && coins === Infinity) return list;
    const taken = new Set();
    for (const car of [...list].sort((one, other) => one.place - other.place)) {
      const { minutes: takes, cost } = car.body.dataset;
      if (cost === "" || (minutes !== Infinity && takes === "") || Number(takes) > minutes || Number(cost) > coins) continue;
      minutes -= Number(takes);
      coins -= Number(cost);
      taken.add(car);
    }
    return list.filter((car) => taken.has(car));
  }

  function keyOf(car) {
    if (!sort.by) return car.place;
    if (sort.by === "car") return car.vehicle;
    if (sort.by === "mind") return car.mind ? 1 : 0;
    const text = car.body.dataset[sort.by] ?? car.row.querySelector(`td.${sort.by}`).firstChild?.textContent ?? "";
    if (sort.by === "do" || sort.by === "clears") return text.toLowerCase();
    return text === "" ? null : Number(text);
  }

  function ordered() {
    const keyed = cars.map((car) => ({ car, key: keyOf(car) }));
    const way = sort.down ? -1 : 1;
    keyed.sort((one, other) => {
      if (one.key === null || other.key === null) return (one.key === null) - (other.key === null) || one.car.place - other.car.place;
      const less = typeof one.key === "string" ? one.key.localeCompare(other.key, "en", { numeric: true }) : one.key - other.key;
      return way * less || one.car.place - other.car.place;
    });
    return keyed.map((one) => one.car);
  }

  function what() {
    return KINDS.filter(value).map((kind) => `${said.kinds[kind]} ${value(kind)}`).join(", ");
  }

  function counted(n, one, many) {
    return n === 1 ? said[one] : filled(said[many], { n });
  }

  function remember() {
    const kept = new URLSearchParams();
    for (const name of fields) if (value(name)) kept.set(name, value(name));
    for (const vehicle of atPoint) kept.append("at", vehicle);
    for (const vehicle of opened) kept.append("open", vehicle);
    if (sort.by) kept.set("sort", (sort.down ? "-" : "") + sort.by);
    const text = kept.toString();
    // A plain jump mark in the address stays until something is chosen.
    if (text || location.hash.includes("=")) history.replaceState(history.state, "", text ? "#" + text : location.pathname);
  }

  function recall() {
    const kept = new URLSearchParams(location.hash.slice(1));
    for (const [name, one] of Object.entries(field)) {
      if (name === "skill") one.checked = kept.get(name) === "yes";
      else one.value = kept.get(name) ?? "";
    }
    atPoint = kept.getAll("at").filter((vehicle) => known.has(vehicle));
    const open = new Set(kept.getAll("open"));
    for (const car of cars) if (open.has(car.vehicle) !== opened.has(car.vehicle)) toggle(car);
    const by = kept.get("sort") ?? "";
    sort = { by: by.replace("-", ""), down: by.startsWith("-") };
    if (!table?.querySelector(`[data-sort="${CSS.escape(sort.by)}"]`)) sort = { by: "", down: false };
  }

  let order = "";
  let shown = cars;

  // The list in its own order says what is done next above the cars of each kind; sorted otherwise it says nothing.
  function headOf(car, before, heads) {
    const { heap } = car.body.dataset;
    return !sort.by && heads.has(heap) && heap !== before?.body.dataset.heap ? [heads.get(heap)] : [];
  }

  function showCars() {
    const list = ordered();
    const wanted = list.map((car) => car.place).join();
    if (wanted !== order && (order || sort.by)) table.append(...list.flatMap((car, at) => [...headOf(car, list[at - 1], groups), car.body]));
    order = wanted;
    shown = affordable(list.filter(fits));
    const near = new Set(shown.slice(0, most));
    if (far === null && [...near].some((car) => !car.row)) farTickets().then(show);
    for (const car of cars) if (car.body.hidden === near.has(car)) car.body.hidden = !near.has(car);
    const heaps = new Set(sort.by ? [] : [...near].map((car) => car.body.dataset.heap));
    for (const [heap, body] of groups) {
      body.hidden = !heaps.has(heap);
      body.querySelector("i").textContent = counted(shown.filter((car) => car.body.dataset.heap === heap).length, "one_car", "many_cars");
    }
    const left = shown.length - near.size;
    byId("rest").hidden = left === 0;
    byId("rest").textContent = filled(said.show_more, { more: Math.min(left, said.step), left });
    byId("nobody").hidden = shown.length > 0;
    const sum = (name, of = shown) => of.reduce((total, car) => total + car.sum(name), 0);
    byId("t-cars").textContent = filled(said.cars_shown, { shown: shown.length.toLocaleString("en-US"), cars: cars.length.toLocaleString("en-US") });
    byId("t-time").textContent = hours(sum("minutes"));
    byId("t-drives").textContent = sum("drives");
    for (const name of ["now", "maybe", "labour"]) byId(`t-${name}`).textContent = exact(sum(name)); // as the parts to order add up
    for (const [name, of] of [["first", "cost"], ["end", "end"], ["handing", "handing"]]) byId(`t-${name}`).textContent = money(sum(of));
    byId("t-saving").textContent = money(Math.round(sum("handing")) - Math.round(sum("end")));
    const part = value("part");
    for (const car of near) {
      const line = part && car.lines[part];
      car.tell(line ? ` (${filled(said.here, { part, line })})` : "");
    }
    showPaper(sum);
    byId("chosen").textContent = what() ? filled(said.chosen, { what: what() }) : said.cars;
    byId("all").disabled = !fields.some(value) && !atPoint.length && !sort.by;
    for (const head of all("table.cars > thead th")) {
      const mine = head.firstElementChild.dataset.sort === sort.by;
      if (mine) head.setAttribute("aria-sort", sort.down ? "descending" : "ascending");
      else head.removeAttribute("aria-sort");
    }
  }

  // The week's sheet and the parts to order hold what is shown, in its order.
  const plan = byId("paper")?.querySelector(".plan tbody");
  const rowsOf = (name) => new Map([...(plan?.rows ?? [])].filter((row) => name in row.dataset).map((row) => [row.dataset[name], row]));
  const planned = rowsOf("vehicle");
  const kinds = rowsOf("heap");
  const wholeSheet = byId("p-cars")?.textContent;

  function showPaper(sum) {
    if (!plan) return;
    const listed = shown.filter((car) => planned.has(car.vehicle));
    const names = new Set(listed.map((car) => car.vehicle));
    plan.append(...listed.flatMap((car, at) => [...headOf(car, listed[at - 1], kinds), planned.get(car.vehicle)]));
    for (const [vehicle, row] of planned) row.hidden = !names.has(vehicle);
    const heaps = new Set(sort.by ? [] : listed.map((car) => car.body.dataset.heap));
    for (const [heap, row] of kinds) row.hidden = !heaps.has(heap);
    const costs = { now: 0, maybe: 0 };
    for (const line of all(".orders li")) {
      const kept = [...line.querySelectorAll("[data-vehicle]")].filter((car) => !(car.hidden = !names.has(car.dataset.vehicle)));
      line.hidden = !kept.length;
      line.querySelector("b").textContent = filled(said.times, { n: kept.length });
      line.querySelector("i").hidden = kept.length === 1;
      costs["checked" in line.dataset ? "maybe" : "now"] += (kept.length * Number(line.dataset.cost)) / 2; // it stands twice
    }
    for (const group of all(".orders .from, .orders .when")) group.hidden = ![...group.querySelectorAll("li")].some((line) => !line.hidden);
    const [now, maybe] = [exact(costs.now), exact(costs.maybe)];
    for (const one of all(".bought")) one.textContent = costs.maybe ? filled(said.bought, { now, maybe }) : now;
    byId("p-cars").textContent = shown.length === cars.length ? wholeSheet : filled(said.only_chosen, { shown: listed.length, cars: cars.length });
    byId("p-time").textContent = hours(sum("minutes", listed));
    const [end, handing] = [Math.round(sum("end", listed)), Math.round(sum("handing", listed))];
    const asking = listed.reduce((total, car) => total + car.sum("asking"), 0);
    byId("p-stake").textContent = filled(said.stakes, {
      cars: counted(listed.length, "one_car", "many_cars"), asking: money(asking), first: money(sum("cost", listed)), hours: hours(sum("minutes", listed)),
      drives: sum("drives", listed), end: money(end), handing: money(handing), saving: money(handing - end),
    });
  }

  // The families that stay in strength: those of what is chosen, else those of the cars that are shown; none named for all.
  const ofFamily = all("[data-family]");
  const members = new Map(all(".family").map((one) => [one.dataset.family, one.dataset.members.split(";")]));
  const triedOn = new Map();
  for (const row of all("#part-table [data-part]")) {
    triedOn.set(row.dataset.part, [...(triedOn.get(row.dataset.part) ?? []), row.dataset.family]);
  }

  function keptFamilies() {
    let kept = [...members.keys()];
    if (value("family")) kept = [value("family")];
    if (value("code")) kept = kept.filter((family) => members.get(family)?.includes(value("code")));
    if (value("part")) kept = kept.filter((family) => triedOn.get(value("part"))?.includes(family));
    const chosen = value("family") || value("code") || value("part");
    if (!chosen && shown.length < cars.length) {
      const theirs = new Set(shown.flatMap((car) => car.choices.family));
      kept = kept.filter((family) => theirs.has(family));
    }
    return kept.length === members.size ? [] : kept.length ? kept : [""];
  }

  function tell(name, signals) {
    const view = views.get(name);
    if (!view) return;
    for (const [signal, set] of Object.entries(signals)) view.signal(signal, set);
    view.runAsync();
  }

  function showFamilies() {
    const kept = keptFamilies();
    const gone = (family) => kept.length > 0 && !kept.includes(family);
    const part = value("part");
    for (const one of ofFamily) one.hidden = gone(one.dataset.family) || Boolean(part && one.dataset.part && one.dataset.part !== part);
    const codes = new Set([...members].filter(([family]) => !gone(family)).flatMap(([, list]) => list));
    for (const row of all("#pair-table tbody tr")) row.hidden = ![...row.cells].slice(0, 2).every((cell) => codes.has(cell.textContent));
    tell("clusters", { kept, part, code: value("code") });
    for (const name of ["map", "trend"]) tell(name, { kept });
    const points = [...new Set(shown.map((car) => car.body.dataset.point).filter(Boolean))];
    tell("costs", { picked: shown.length === cars.length ? [] : points.length ? points : [""] });
    const number = kept.length ? kept.filter(Boolean).length : members.size;
    if (byId("followed")) {
      byId("followed").textContent = what()
        ? filled(said.followed, { what: what(), cars: counted(shown.length, "one_car", "many_cars"), families: counted(number, "one_family", "many_families") })
        : "";
      byId("none").disabled = !what();
    }
  }

  function show() {
    if (cars.length) showCars();
    showFamilies();
    for (const one of all(".pick")) one.setAttribute("aria-pressed", String(value(one.dataset.choose) === one.dataset.name));
    remember();
  }

  function choose() {
    most = said.step;
    show();
  }

  // One thing is chosen at a time; chosen again, it is let go.
  function pick(kind, name) {
    const again = value(kind) === name;
    for (const one of KINDS) if (field[one]) field[one].value = "";
    if (!again && field[kind]) field[kind].value = name;
    choose();
  }

  function letGo() {
    for (const one of KINDS) if (field[one]) field[one].value = "";
    atPoint = [];
    choose();
  }

  function showAll() {
    for (const [name, one] of Object.entries(field)) {
      if (name === "skill") one.checked = false;
      else one.value = "";
    }
    atPoint = [];
    sort = { by: "", down: false };
    choose();
  }

  function showMore() {
    const first = shown[most];
    most += said.step;
    show();
    if (first?.row) first.button.focus();
  }

  function toggle(car) {
    if (!car.row) {
      opened.add(car.vehicle);
      farTickets().then(() => opened.has(car.vehicle) && toggle(car));
      return;
    }
    car.ticket.hidden = !car.ticket.hidden;
    car.button.setAttribute("aria-expanded", String(!car.ticket.hidden));
    if (car.ticket.hidden) opened.delete(car.vehicle);
    else opened.add(car.vehicle);
  }

  // The address remembers which tickets are open, so that the way back from a job sheet leads to the open ticket; the
  // hand stays at the car, and its row below the headings.
  function open(car) {
    toggle(car);
    remember();
    car.button.focus({ preventScroll: true });
    if (!car.ticket.hidden) car.row.scrollIntoView({ block: "nearest" });
  }

  // Where the hand was when the page was left: the way back leads there.
  function leave(event) {
    const link = event.target.closest("tr.ticket a[href]");
    if (link) history.replaceState({ left: link.getAttribute("href") }, "");
  }

  function comeBack() {
    const left = history.state?.left;
    const links = left ? all("tbody:not([hidden]) > tr.ticket:not([hidden]) a[href]") : [];
    links.find((one) => one.getAttribute("href") === left)?.focus();
    // A job sheet's own way back names its car in the address.
    const [only, ...others] = opened;
    const car = !left && !others.length && cars.find((one) => one.vehicle === only);
    car?.button?.focus({ preventScroll: true });
    car?.row?.scrollIntoView({ block: "nearest" });
  }

  function move(event) {
    const steps = { ArrowDown: 1, ArrowUp: -1 };
    const at = event.target.matches(".open") ? shown.indexOf(carOf(event.target)) : -1;
    if (at < 0) return;
    const next = event.key in steps ? shown[at + steps[event.key]] : event.key === "Home" ? shown[0] : event.key === "End" ? shown[Math.min(most, shown.length) - 1] : null;
    if (!next || next.body.hidden) return;
    event.preventDefault();
    next.button.focus();
  }

  // ---- charts: each is drawn once the list stands, or its fold is opened; the library is unpacked for the first ----
  const drawing = new Map();
  let library = null;

  async function unpack() {
    const script = document.createElement("script");
    script.type = "module";
    script.textContent = await unpacked("library");
    await new Promise((ready) => {
      Object.defineProperty(window, "vegaEmbed", { configurable: true, set: (value) => ready(Object.defineProperty(window, "vegaEmbed", { value })) });
      document.head.append(script);
    });
  }

  async function draw(name) {
    const holder = byId(`chart-${name}`);
    const narrow = name === "clusters" && holder.clientWidth < 640;
    const spec = specs[name];
    if (name === "clusters") {
      spec.tall ??= spec.height;
      spec.height = narrow ? spec.usermeta.narrow : spec.tall;
      spec.params.find((param) => param.name === "narrow").value = narrow;
    }
    holder.dataset.narrow = narrow ? "yes" : "";
    try {
      await (library ??= unpack());
      const drawn = await vegaEmbed(holder, spec, { config, renderer: "svg", actions: false, ast: true, tooltip: { theme: "custom" } });
      views.get(name)?.finalize();
      views.set(name, drawn.view);
      drawn.view.addEventListener("click", (_, item) => {
        const { point, family, choose: kind, name: chosen } = item?.datum ?? {};
        if (point) {
          const there = cars.filter((car) => car.body.dataset.point === point).map((car) => car.vehicle);
          atPoint = atPoint.length && atPoint.every((car) => there.includes(car)) ? [] : there;
          choose();
        } else if (kind) pick(kind, chosen);
        else if (family) pick("family", family);
      });
      showFamilies();
    } catch (error) {
      holder.textContent = said.not_drawn;
      console.error(error);
    }
  }

  function drawn(name) {
    if (!drawing.has(name)) drawing.set(name, draw(name));
    return drawing.get(name);
  }

  const holders = Object.keys(specs).filter((name) => byId(`chart-${name}`));
  const folded = (name) => byId(`chart-${name}`).closest("details:not([open])");
  for (const fold of all("details.view")) {
    fold.addEventListener("toggle", () => {
      if (fold.open) for (const name of holders) if (fold.contains(byId(`chart-${name}`)) && !folded(name)) drawn(name);
    });
  }
  addEventListener("resize", () => {
    const holder = byId("chart-clusters");
    if (!drawing.has("clusters") || holder.clientWidth === 0) return;
    if ((holder.clientWidth < 640) !== (holder.dataset.narrow === "yes")) drawing.set("clusters", draw("clusters"));
  });

  // ---- a car's story, drawn when it is opened ----
  const told = JSON.parse(byId("stories").textContent);
  const SIGNS = { s: "●", g: "○" };

  function made(name, text, label) {
    const one = document.createElement(name);
    if (text) one.textContent = text;
    if (label) one.ariaLabel = label;
    return one;
  }

  function headed(text, scope) {
    const head = made("th", text);
    head.scope = scope;
    return head;
  }

  function tellStory(fold) {
    if (fold.childElementCount > 1) return;
    const { visits, codes, earlier } = told[fold.dataset.vehicle];
    const around = made("div", "", filled(said.story_of, { car: fold.dataset.vehicle }));
    around.className = "scroll";
    around.tabIndex = 0;
    around.setAttribute("role", "region");
    const grid = made("table");
    grid.className = "story";
    grid.createCaption().textContent = filled(said.story_signs, { earlier });
    const heads = grid.createTHead().insertRow();
    heads.append(headed(said.story_code, "col"));
    for (const [day, work] of visits) {
      const head = headed(day, "col");
      if (work) {
        head.className = "job";
        head.append(made("span", work));
      }
      heads.append(head);
    }
    const body = grid.createTBody();
    for (const [code, marks] of codes) {
      const row = body.insertRow();
      const head = headed("", "row");
      head.append(made("code", code));
      row.append(head);
      for (const mark of marks) {
        const one = made("td", SIGNS[mark], said.story_marks[mark]);
        if (mark === "w") one.className = "job";
        row.append(one);
      }
    }
    around.append(grid);
    fold.append(around);
  }
  document.addEventListener("toggle", (event) => event.target.matches("details.tells[open]") && tellStory(event.target), true);

  // ---- saving what is chosen ----
  function save(name, type, content) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(content instanceof Blob ? content : new Blob([content], { type }));
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  }

  // Text that a spreadsheet would take for a formula stays text.
  function cell(text) {
    const plain = text.replace(/\s+/g, " ").trim();
    const kept = /^[=+\-@]/.test(plain) && !/^-?[\d.,]+%?$/.test(plain) ? "'" + plain : plain;
    return /[",]/.test(kept) ? `"${kept.replaceAll('"', '""')}"` : kept;
  }

  function saveRows(name, rows) {
    const lines = rows.map((row) => [...row.cells].map((one) => cell(one.textContent)).join(","));
    save(name, "text/csv", "\ufeff" + lines.join("\r\n") + "\r\n");
  }

  function picture() {
    const source = byId("chart-clusters").querySelector("svg").cloneNode(true);
    const style = getComputedStyle(document.documentElement);
    const { width, height } = byId("chart-clusters").querySelector("svg").getBoundingClientRect();
    const box = { width, height };
    const paper = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    for (const [key, text] of [["width", "100%"], ["height", "100%"], ["fill", "var(--sheet)"]]) paper.setAttribute(key, text);
    source.prepend(paper);
    if (what()) {
      const named = document.createElementNS("http://www.w3.org/2000/svg", "text");
      for (const [key, text] of [["x", 6], ["y", 14], ["font-size", 13], ["font-family", "sans-serif"], ["font-weight", 600], ["fill", "var(--ink)"]]) named.setAttribute(key, text);
      named.textContent = filled(said.picture_of, { what: what() });
      const inside = document.createElementNS("http://www.w3.org/2000/svg", "g");
      inside.setAttribute("transform", "translate(0 22)");
      inside.append(...[...source.childNodes].filter((one) => one !== paper));
      source.append(named, inside);
      box.height += 22;
      source.setAttribute("height", box.height);
      source.setAttribute("viewBox", [0, 0, box.width, box.height].join(" "));
    }
    source.setAttribute("xmlns", "http://www.w3.org/2000/svg");
    const text = new XMLSerializer().serializeToString(source).replace(/var\((--[\w-]+)\)/g, (_, name) => style.getPropertyValue(name).trim());
    return { text, width: box.width, height: box.height };
  }

  async function savePng() {
    const { text, width, height } = picture();
    const image = new Image();
    image.src = "data:image/svg+xml;charset=utf-8," + encodeURIComponent(text);
    await image.decode();
    const canvas = document.createElement("canvas");
    canvas.width = width * 2;
    canvas.height = height * 2;
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    canvas.toBlob((blob) => save("clusters.png", "image/png", blob));
  }

  // Plain numbers, and what the ticket says of caution and check.
  function savedRow(car) {
    const { vehicle, make, model, cost, part, labour, minutes } = car.body.dataset;
    const at = (selector) => car.row.querySelector(selector);
    const chance = at(".chance").dataset;
    const said_of = (selector) => [...car.ticket.querySelector(".do").querySelectorAll(selector)].map((one) => one.textContent).join(" ");
    const cheap = car.row.classList.contains("win") ? "yes" : "no";
    const bounds = chance.n === "" ? ["", ""] : [chance.low ?? "", chance.high ?? ""];
    const [doing] = at(".do").childNodes;
    return [vehicle, make, model, doing.textContent, chance.n, ...bounds, cost, part, labour, minutes, at(".asking").dataset.n, cheap, at(".clears").textContent, said_of(".mind"), said_of(".check")];
  }

  byId("save-list")?.addEventListener("click", async () => {
    if (far === null) await farTickets();
    const lines = [said.save_heads, ...shown.map(savedRow)].map((row) => row.map(cell).join(","));
    save("cars.csv", "text/csv", "\ufeff" + lines.join("\r\n") + "\r\n");
  });
  byId("save-table")?.addEventListener("click", () => {
    const rows = byId("part-table");
    if (rows) saveRows("clusters.csv", [...rows.rows].filter((row) => !row.hidden));
  });
  byId("save-svg")?.addEventListener("click", () => save("clusters.svg", "image/svg+xml", picture().text));
  byId("save-png")?.addEventListener("click", savePng);
  for (const button of all("[data-print]")) {
    button.addEventListener("click", () => {
      document.documentElement.dataset.only = button.dataset.print;
      button.closest("details").open = false;
      print();
      delete document.documentElement.dataset.only;
    });
  }
  for (const menu of all("details.menu")) {
    menu.addEventListener("keydown", (event) => {
      if (event.key !== "Escape") return;
      menu.open = false;
      menu.querySelector("summary").focus();
    });
  }

  // ---- what the hand does ----
  document.querySelector(".skip").addEventListener("click", (event) => {
    if (!shown.length || !cars.length) return;
    event.preventDefault();
    if (!shown[0].row) return;
    shown[0].button.focus();
    shown[0].body.scrollIntoView({ block: "nearest" });
  });
  recall();
  document.querySelector(".filters")?.addEventListener("input", choose);
  document.querySelector(".filters")?.addEventListener("submit", (event) => event.preventDefault());
  document.querySelector(".choose")?.addEventListener("input", choose);
  byId("all")?.addEventListener("click", showAll);
  byId("none")?.addEventListener("click", letGo);
  byId("rest")?.addEventListener("click", showMore);
  table?.addEventListener("click", leave);
  table?.addEventListener("keydown", (event) => {
    const car = event.key === "Escape" && event.target.closest("tr.ticket") && carOf(event.target);
    if (car) open(car);
  });
  document.addEventListener("click", (event) => {
    const one = event.target.closest(".pick");
    if (one) pick(one.dataset.choose, one.dataset.name);
  });
  for (const button of all("[data-sort]")) {
    button.addEventListener("click", () => {
      const by = button.dataset.sort;
      const best = by === "chance" || by === "mind"; // the highest is looked for first
      sort = sort.by !== by ? { by, down: best } : sort.down === best ? { by, down: !best } : { by: "", down: false };
      choose();
    });
  }
  table?.addEventListener("click", (event) => {
    const row = event.target.closest("tr.car");
    if (row && (event.target.matches(".open") || !event.target.closest("button"))) open(carOf(row));
  });
  table?.addEventListener("keydown", move);
  for (const link of all('a[href="#orders"], a[href="#off-list"]')) {
    link.addEventListener("click", () => {
      byId(link.hash.slice(1)).open = true;
    });
  }
  addEventListener("beforeprint", () => {
    for (const fold of all("#standing details:not([open])")) fold.dataset.folded = String((fold.open = true));
  });
  addEventListener("afterprint", () => {
    for (const fold of all("[data-folded]")) {
      fold.open = false;
      delete fold.dataset.folded;
    }
  });
  show();
  comeBack();
  document.documentElement.dataset.listed = "yes";
  performance.mark("listed");
  // One chart at a time, and the list answers in between.
  const whenIdle = window.requestIdleCallback ?? ((then) => setTimeout(then, 50));
  const rested = () => new Promise((then) => whenIdle(then, { timeout: 500 }));
  (async () => {
    await rested();
    if (far === null) farTickets();
    for (const name of holders.filter((one) => !folded(one))) {
      await drawn(name);
      await rested();
    }
    document.documentElement.dataset.drawn = "yes";
  })();
})();
