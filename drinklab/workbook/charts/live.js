// One engine a page, however many charts there are. A workbook's server gives it, and `open.js` says where; elsewhere
// the kernel tells its code, through a widget that all of them share.
async function engine(model) {
  globalThis.drinklabVegaLoading ??= fetched(model);
  try { await globalThis.drinklabVegaLoading; }
  catch (error) { globalThis.drinklabVegaLoading = null; throw error; }
  return globalThis.drinklabVega;
}

async function fetched(model) {
  if (globalThis.drinklabEngine) {
    try { return await import(globalThis.drinklabEngine); }
    catch (error) { console.warn("drinklab", error); }
  }
  const source = await model.widget_manager.get_model(model.get("engine").replace("IPY_MODEL_", ""));
  if (!source.get("code")) {
    const told = new Promise(done => source.once("change:code", done));
    source.send({});
    await told;
  }
  const url = URL.createObjectURL(new Blob([source.get("code")], {type: "text/javascript"}));
  try { await import(url); } finally { URL.revokeObjectURL(url); }
}

// Leaves the browser time to take in what else has arrived; a hidden tab has no frames, hence the clock.
const breath = () => new Promise(go => { requestAnimationFrame(go); setTimeout(go, 60); });

// Rows are changed where they are, as far as they go: the engine never quite forgets a row taken out.
function changed(view, name, rows) {
  const old = view.data(name), change = view.changeset();
  rows.forEach((row, i) => {
    if (i >= old.length) return change.insert(row);
    for (const field of new Set([...Object.keys(old[i]), ...Object.keys(row)]))
      if (old[i][field] !== row[field]) change.modify(old[i], field, row[field]);
  });
  return change.remove(old.slice(rows.length));
}

function render({ model, el }) {
  const place = document.createElement("div");
  place.className = "drinklab-chart";
  el.append(place);
  const names = model.get("names");
  const rows = name => structuredClone(model.get("rows_" + name));
  const waiting = new Set();
  let view = null, drawing = false, closed = false;

  const fail = (error, what = "its specification has a mistake") => {
    const reason = String(error?.message ?? error).split("\n")[0].replace(/\.$/, "").slice(0, 200);
    place.textContent = `This chart cannot be drawn: ${what} (${reason}).`;
    place.classList.add("drinklab-chart-failed");
    place.setAttribute("role", "alert");
  };
  // The picture is one thing with one text: what it shows, and the drink as it stands.
  const tell = () => {
    const [me] = names.includes("me") ? rows("me") : [];
    const drink = me?.label && me.abv !== undefined
      ? ` ${me.label}: ${me.abv} % vol, sugar ${me.sugar} g/L, acid ${me.acid} g/L.` : "";
    place.setAttribute("role", "img");
    place.setAttribute("aria-label", (model.get("spec").description || "Chart.") + drink);
    place.querySelector("svg")?.setAttribute("aria-hidden", "true");
  };
  const draw = async () => {
    if (drawing || !view || closed) return;
    drawing = true;
    await null; // until all rows that one message brings are here: the first alone would be a picture of its own
    try {
      while (waiting.size && !closed) {
        const now = [...waiting];
        waiting.clear();
        for (const name of now)
          view.change(name, changed(view, name, rows(name)));
        await view.runAsync();
        await breath();
      }
      tell();
    } catch (error) { fail(error); }
    drawing = false;
  };
  const heard = names.map(name => ["change:rows_" + name, () => { waiting.add(name); draw(); }]);
  for (const [event, act] of heard) model.on(event, act);

  (async () => {
    let embed;
    try { embed = await engine(model); }
    catch (error) { return closed || fail(error, "the drawing engine did not arrive, run the notebook again"); }
    if (closed) return;
    try {
      const room = el.clientWidth || innerWidth, whole = model.get("spec");
      const narrow = room < 480 && whole.usermeta?.narrow;
      const start = structuredClone(narrow || whole);
      start.datasets = {...start.datasets, ...Object.fromEntries(names.map(name => [name, rows(name)]))};
      waiting.clear();
      if (narrow) place.setAttribute("data-narrow", "yes");
      // Panels that stand each for itself, under each other where there is no room beside.
      else if (start.concat && room < 480) {
        start.columns = 1;
        start.config = {...start.config, legend: {...start.config?.legend, columns: 3}};
        place.setAttribute("data-narrow", "yes");
      }
      // One panel is drawn as wide as there is room, its letters as large as ever.
      else if (room < 480 && typeof start.width === "number" && (start.layer || start.mark)) {
        start.width = room;
        start.autosize = {type: "fit-x", contains: "padding"};
        place.setAttribute("data-narrow", "yes");
      }
      const result = await embed(place, start, {mode: "vega-lite", actions: false, renderer: "svg"});
      if (closed) return result.finalize();
      view = result.view;
      // By default it keeps up to 10 000 marks that are gone.
      view.cleanThreshold = 20;
      const quiet = () => logger;
      const logger = {level: quiet, warn: quiet, info: quiet, debug: quiet,
                      error: error => { fail(error); return logger; }};
      view.logger(logger);
      // JupyterLab would take the arrow keys from sliders inside the chart.
      for (const input of place.querySelectorAll(".vega-bind input, .vega-bind select"))
        input.setAttribute("data-lm-suppress-shortcuts", "true");
      tell();
      place.setAttribute("data-drawn", "yes");
      draw();
    } catch (error) { if (!closed) fail(error); }
  })();

  return () => {
    closed = true;
    for (const [event, act] of heard) model.off(event, act);
    view?.finalize();
    place.remove();
  };
}
export default { render };
