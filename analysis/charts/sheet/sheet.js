// Draws the charts and lets the tickets, the tables and the chart choose together.
// Everything from outside is compared and shown as text; nothing here builds HTML.
(() => {
  "use strict";
  const specs = JSON.parse(document.getElementById("charts").textContent);
  const byId = (id) => document.getElementById(id);
  const tickets = [...document.querySelectorAll(".ticket")];
  const picks = [...document.querySelectorAll(".pick")];
  const rows = [...document.querySelectorAll("tr[data-vehicle]")];
  const fields = { find: byId("find"), make: byId("make"), family: byId("family"), cheap: byId("cheap") };
  const picked = new Set(); // vehicles
  let costs = null; // the drawn chart of cost against chance

  const pointOf = new Map(tickets.map((ticket) => [ticket.dataset.vehicle, ticket.dataset.point]));
  const words = new Map(tickets.map((ticket) => [ticket, ticket.textContent.toLowerCase()]));
  const families = new Map(tickets.map((ticket) => [ticket, JSON.parse(ticket.dataset.families)]));

  function fits(ticket) {
    const wanted = fields.find.value.trim().toLowerCase();
    return (
      (!wanted || words.get(ticket).includes(wanted)) &&
      (!fields.make.value || ticket.dataset.make === fields.make.value) &&
      (!fields.family.value || families.get(ticket).includes(fields.family.value)) &&
      (!fields.cheap.checked || ticket.dataset.cheap === "yes") &&
      (!picked.size || picked.has(ticket.dataset.vehicle))
    );
  }

  function remember() {
    const kept = new URLSearchParams();
    for (const name of ["find", "make", "family"]) if (fields[name].value) kept.set(name, fields[name].value);
    if (fields.cheap.checked) kept.set("cheap", "yes");
    for (const vehicle of picked) kept.append("car", vehicle);
    const text = kept.toString();
    // A plain jump mark in the address stays until something is chosen.
    if (text || location.hash.includes("=")) history.replaceState(null, "", text ? "#" + text : location.pathname);
  }

  function recall() {
    const kept = new URLSearchParams(location.hash.slice(1));
    for (const name of ["find", "make", "family"]) fields[name].value = kept.get(name) ?? "";
    fields.cheap.checked = kept.get("cheap") === "yes";
    for (const vehicle of kept.getAll("car")) if (pointOf.has(vehicle)) picked.add(vehicle);
  }

  function show() {
    if (!tickets.length) return;
    const shown = tickets.filter((ticket) => (ticket.hidden = !fits(ticket)) === false);
    const vehicles = new Set(shown.map((ticket) => ticket.dataset.vehicle));
    for (const ticket of tickets) ticket.classList.toggle("picked", picked.has(ticket.dataset.vehicle));
    for (const row of rows) row.classList.toggle("faint", !vehicles.has(row.dataset.vehicle));
    for (const pick of picks) pick.setAttribute("aria-pressed", String(picked.has(pick.dataset.vehicle)));
    byId("nobody").hidden = shown.length > 0;
    byId("shown").textContent = `${shown.length} of ${tickets.length} cars`;
    byId("all").disabled = shown.length === tickets.length && !picked.size;
    if (costs) {
      const all = shown.length === tickets.length;
      const points = [...new Set(shown.map((ticket) => ticket.dataset.point).filter(Boolean))];
      costs.signal("picked", all ? [] : points.length ? points : [""]).runAsync();
    }
    remember();
  }

  function pick(vehicles) {
    const same = vehicles.length === picked.size && vehicles.every((vehicle) => picked.has(vehicle));
    picked.clear();
    if (!same) for (const vehicle of vehicles) picked.add(vehicle);
    show();
  }

  function showAll() {
    picked.clear();
    for (const name of ["find", "make", "family"]) fields[name].value = "";
    fields.cheap.checked = false;
    show();
  }

  async function draw(name, spec) {
    const holder = byId(`chart-${name}`);
    try {
      const drawn = await vegaEmbed(holder, spec, { renderer: "svg", actions: false, ast: true, tooltip: { theme: "custom" } });
      if (name !== "costs") return;
      costs = drawn.view;
      costs.addEventListener("click", (_, item) => {
        const point = item?.datum?.point;
        if (point) pick([...pointOf].filter(([, at]) => at === point).map(([vehicle]) => vehicle));
      });
    } catch (error) {
      holder.textContent = "The chart could not be drawn; the table below holds the same.";
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
    document.querySelector(".filters").addEventListener("input", show);
    document.querySelector(".filters").addEventListener("submit", (event) => event.preventDefault());
    byId("all").addEventListener("click", showAll);
    for (const button of picks) button.addEventListener("click", () => pick([button.dataset.vehicle]));
    for (const button of document.querySelectorAll(".show-family")) {
      button.addEventListener("click", () => {
        showAll();
        fields.family.value = button.dataset.family;
        show();
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
