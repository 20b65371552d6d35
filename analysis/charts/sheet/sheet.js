// Draws the charts and lets the tickets, the tables and the chart choose together.
// Everything from outside is compared and shown as text; nothing here builds HTML.
(() => {
  "use strict";
  const specs = JSON.parse(document.getElementById("charts").textContent);
  const said = JSON.parse(document.getElementById("words").textContent);
  const filled = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => String(values[name]));
  const byId = (id) => document.getElementById(id);
  const tickets = [...document.querySelectorAll(".ticket")];
  const picks = [...document.querySelectorAll(".pick")];
  const rows = [...document.querySelectorAll("tr[data-vehicle]")];
  const ofFamily = [...document.querySelectorAll("tr[data-family], article[data-family]")];
  const ofPair = [...document.querySelectorAll("tr[data-codes]")];
  const fields = { find: byId("find"), make: byId("make"), family: byId("family"), most: byId("most"), cheap: byId("cheap") };
  const typed = ["find", "make", "family", "most"];
  const picked = new Set(); // vehicles
  const STEP = 40; // tickets shown at once
  let most = STEP;
  const views = new Map(); // the drawn charts, by name

  const pointOf = new Map(tickets.map((ticket) => [ticket.dataset.vehicle, ticket.dataset.point]));
  const words = new Map(tickets.map((ticket) => [ticket, ticket.textContent.toLowerCase()]));
  const families = new Map(tickets.map((ticket) => [ticket, JSON.parse(ticket.dataset.families)]));

  function fits(ticket) {
    const wanted = fields.find.value.trim().toLowerCase();
    return (
      (!wanted || words.get(ticket).includes(wanted)) &&
      (!fields.make.value || ticket.dataset.make === fields.make.value) &&
      (!fields.family.value || families.get(ticket).includes(fields.family.value)) &&
      (fields.most.value === "" || (ticket.dataset.cost !== "" && Number(ticket.dataset.cost) <= Number(fields.most.value))) &&
      (!fields.cheap.checked || ticket.dataset.cheap === "yes") &&
      (!picked.size || picked.has(ticket.dataset.vehicle))
    );
  }

  function remember() {
    const kept = new URLSearchParams();
    for (const name of typed) if (fields[name].value) kept.set(name, fields[name].value);
    if (fields.cheap.checked) kept.set("cheap", "yes");
    for (const vehicle of picked) kept.append("car", vehicle);
    const text = kept.toString();
    // A plain jump mark in the address stays until something is chosen.
    if (text || location.hash.includes("=")) history.replaceState(null, "", text ? "#" + text : location.pathname);
  }

  function recall() {
    const kept = new URLSearchParams(location.hash.slice(1));
    for (const name of typed) fields[name].value = kept.get(name) ?? "";
    fields.cheap.checked = kept.get("cheap") === "yes";
    for (const vehicle of kept.getAll("car")) if (pointOf.has(vehicle)) picked.add(vehicle);
  }

  // The families that stay: the chosen one, else those of the cars that are shown; none named means all.
  function keptFamilies(shown) {
    if (fields.family.value) return [fields.family.value];
    if (shown.length === tickets.length) return [];
    return [...new Set(shown.flatMap((ticket) => families.get(ticket)))];
  }

  function tell(name, signal, kept) {
    views.get(name)?.signal(signal, kept).runAsync();
  }

  function showFamilies(kept) {
    const gone = (family) => kept.length > 0 && !kept.includes(family);
    for (const one of ofFamily) one.hidden = gone(one.dataset.family);
    const codes = new Set(ofFamily.filter((one) => one.dataset.members && !one.hidden).flatMap((one) => one.dataset.members.split(";")));
    for (const row of ofPair) row.hidden = !row.dataset.codes.split(";").every((code) => codes.has(code));
    for (const name of ["map", "parts", "trend"]) tell(name, "kept", kept);
  }

  function show() {
    if (!tickets.length) return;
    const shown = tickets.filter(fits);
    const near = new Set(shown.slice(0, most));
    for (const ticket of tickets) ticket.hidden = !near.has(ticket);
    const left = shown.length - near.size;
    byId("rest").hidden = left === 0;
    byId("rest").textContent = filled(said.show_more, { more: Math.min(left, STEP), left });
    const vehicles = new Set(shown.map((ticket) => ticket.dataset.vehicle));
    for (const ticket of tickets) ticket.classList.toggle("picked", picked.has(ticket.dataset.vehicle));
    for (const row of rows) row.hidden = !vehicles.has(row.dataset.vehicle);
    for (const pick of picks) pick.setAttribute("aria-pressed", String(picked.has(pick.dataset.vehicle)));
    byId("nobody").hidden = shown.length > 0;
    byId("shown").textContent = filled(said.cars_shown, { shown: shown.length, cars: tickets.length });
    const all = shown.length === tickets.length;
    byId("all").disabled = all && !picked.size && !fields.family.value;
    const points = [...new Set(shown.map((ticket) => ticket.dataset.point).filter(Boolean))];
    tell("costs", "picked", all ? [] : points.length ? points : [""]);
    const kept = keptFamilies(shown);
    showFamilies(all || kept.length ? kept : [""]);
    remember();
  }

  function choose() {
    most = STEP;
    show();
  }

  function showMore() {
    const first = tickets.filter(fits)[most];
    most += STEP;
    show();
    first?.querySelector("a, button, summary")?.focus();
  }

  function chooseFamily(family) {
    fields.family.value = fields.family.value === family ? "" : family;
    choose();
  }

  function pick(vehicles) {
    const same = vehicles.length === picked.size && vehicles.every((vehicle) => picked.has(vehicle));
    picked.clear();
    if (!same) for (const vehicle of vehicles) picked.add(vehicle);
    choose();
  }

  function showAll() {
    picked.clear();
    for (const name of typed) fields[name].value = "";
    fields.cheap.checked = false;
    choose();
  }

  async function draw(name, spec) {
    const holder = byId(`chart-${name}`);
    try {
      const drawn = await vegaEmbed(holder, spec, { renderer: "svg", actions: false, ast: true, tooltip: { theme: "custom" } });
      views.set(name, drawn.view);
      drawn.view.addEventListener("click", (_, item) => {
        const { point, family } = item?.datum ?? {};
        if (point) pick([...pointOf].filter(([, at]) => at === point).map(([vehicle]) => vehicle));
        else if (family && tickets.length) chooseFamily(family);
      });
    } catch (error) {
      holder.textContent = said.not_drawn;
      console.error(error);
    }
  }

  // On paper nothing can be opened: the rows behind the first are printed too.
  const later = [...document.querySelectorAll(".later")];
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = later.filter((rest) => !rest.open);
    for (const rest of opened) rest.open = true;
  });
  addEventListener("afterprint", () => {
    for (const rest of opened) rest.open = false;
  });

  if (tickets.length) {
    recall();
    document.querySelector(".filters").addEventListener("input", choose);
    document.querySelector(".filters").addEventListener("submit", (event) => event.preventDefault());
    byId("all").addEventListener("click", showAll);
    byId("rest").addEventListener("click", showMore);
    for (const button of picks) button.addEventListener("click", () => pick([button.dataset.vehicle]));
    for (const button of document.querySelectorAll(".show-family")) {
      button.addEventListener("click", () => {
        showAll();
        fields.family.value = button.dataset.family;
        choose();
        byId("try").scrollIntoView();
        fields.family.focus({ preventScroll: true });
      });
    }
  } else {
    for (const button of document.querySelectorAll(".show-family")) button.hidden = true;
  }
  Promise.all(Object.entries(specs).map(([name, spec]) => draw(name, spec))).then(() => {
    show();
    document.documentElement.dataset.drawn = "yes";
  });
})();
