// Written by hand, not bundled: JupyterLab loads it as it loads any prebuilt extension.
(() => {
  const here = document.currentScript.src.replace(/[^/]*$/, "");
  let shared;

  // Each page has kernels of its own, so that another page of the same notebook takes nothing from it. It names the
  // kernel and asks for it as soon as it knows which notebook it will show: the kernel is made ready, and runs the
  // first cell, while the rest loads. JupyterLab loads a second tab twice, which then asks for the same one.
  const config = JSON.parse(document.getElementById("jupyter-config-data")?.textContent ?? "{}");
  const kept = path => `drinklab begun ${config.baseUrl}${path}`;
  const asked = new Map(); // path: whether the server has begun that kernel, and in which session, told once it has run the first cell
  if (config.treePath) begin(config.treePath);

  // What draws charts (`charts/live.js` imports it) comes with the rest of the page's files.
  globalThis.drinklabEngine = new URL(`${config.baseUrl}drinklab/engine.js`, location.href).href;
  const engine = document.createElement("link");
  engine.rel = "modulepreload";
  engine.href = globalThis.drinklabEngine;
  document.head.append(engine);

  function begin(path) {
    const digits = [...crypto.getRandomValues(new Uint8Array(16))].map(one => one.toString(16).padStart(2, "0")).join("");
    const kernel = sessionStorage.getItem(kept(path)) ?? digits.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
    sessionStorage.setItem(kept(path), kernel);
    const cookie = document.cookie.match(/(?:^|; )_xsrf=([^;]*)/)?.[1] ?? "";
    const headers = {"X-XSRFToken": cookie};
    if (config.token) headers.Authorization = `token ${config.token}`;
    const place = config.baseUrl + "drinklab/begin/" + path.split("/").map(encodeURIComponent).join("/");
    asked.set(path, fetch(place, {method: "POST", headers, body: JSON.stringify({kernel})})
      .then(async answer => answer.ok ? await answer.json() : {})
      .catch(error => { console.warn("drinklab", error); return {}; })); // without an answer the kernel is new all the same
  }

  const load = async name => {
    const versions = Object.values(shared[name]);
    const one = versions.find(v => v.loaded) ?? versions[0];
    return (await one.get())();
  };

  window._JUPYTERLAB ??= {};
  window._JUPYTERLAB.drinklab = {
    init: scope => { shared = scope; },
    get: async () => {
      const style = document.createElement("link");
      style.rel = "stylesheet";
      style.href = here + "style.css";
      const styled = new Promise(done => { style.onload = style.onerror = done; });
      document.head.append(style);
      const [application, notebook, widgets] = await Promise.all(
        ["@jupyterlab/application", "@jupyterlab/notebook", "@lumino/widgets"].map(load));
      await styled;
      const plugin = {
        id: "drinklab:open",
        description: "Runs Drinklab's own notebooks when they open, and shows them without their code.",
        autoStart: true,
        requires: [notebook.INotebookTracker],
        optional: [application.ILabShell],
        activate: (app, tracker, shell) => activate(app, tracker, shell, notebook.NotebookActions, widgets.Widget),
      };
      return () => ({ __esModule: true, default: plugin });
    },
  };

  function activate(app, tracker, shell, actions, Widget) {
    if (shell)
      app.restored.then(() => {
        for (const side of ["left", "right"]) {
          shell[side === "left" ? "collapseLeft" : "collapseRight"]();
          if (shell.isSideTabBarVisible(side)) shell.toggleSideTabBarVisibility(side);
        }
      });

    // With the code out of sight, a stray letter would still be an order (x cuts a cell away), and a
    // double click on a text would open its source. On the window: JupyterLab listens below it.
    window.addEventListener("keydown", event => {
      const plain = event.key.length === 1 && event.key !== " " && !event.ctrlKey && !event.metaKey && !event.altKey;
      if (plain && inPlain(event.target) && !event.target.closest("input, textarea, select, [contenteditable=true]"))
        event.stopPropagation();
    }, true);
    window.addEventListener("dblclick", event => {
      if (inPlain(event.target) && event.target.closest(".jp-MarkdownCell")) event.stopPropagation();
    }, true);

    // Each editor would look where the selection is, and have the whole page laid out for it, at each change of a figure.
    window.addEventListener("selectionchange", event => {
      if (inPlain(document.activeElement) && !document.activeElement.closest(".cm-editor")) event.stopPropagation();
    }, true);

    // The session that the server has begun, met while JupyterLab still builds its page; not before it is certain that
    // this page stays: that of a second tab is loaded anew.
    const meet = begun => {
      if (begun.session) begun.met ??= app.serviceManager.sessions.connectTo({model: begun.session});
      return begun;
    };
    app.restored.then(() => {
      for (const begun of asked.values()) begun.then(meet);
      // JupyterLab itself opens what its address names only when it has kept its layout, for which it idles half a second.
      if (config.treePath?.endsWith(".ipynb"))
        app.commands.execute("docmanager:open", {path: config.treePath}).catch(error => console.warn("drinklab", error));
    });

    const seen = new WeakSet();
    // Only a notebook that is looked at is run, not every tab that a reload brings back.
    const look = panel => {
      if (!panel || seen.has(panel)) return;
      seen.add(panel);
      open(panel).catch(error => console.error("drinklab", error));
    };
    tracker.widgetAdded.connect((_, panel) => {
      panel.addClass("drinklab-waits"); // before its first cell is drawn
      if (asked.has(panel.context.path)) connect(panel); // while the notebook is still read
    });
    tracker.currentChanged.connect((_, panel) => look(panel));
    look(tracker.currentWidget);

    async function open(panel) {
      panel.addClass("drinklab-waits"); // until it is known that it does not run, or until it is ready
      try { await panel.context.ready; }
      catch (error) { reveal(panel); throw error; }
      if (panel.model.getMetadata("drinklab")?.run_on_open !== true) {
        leaveAsItWas(panel);
        return reveal(panel);
      }
      const trusted = [...panel.model.cells].every(cell => cell.type !== "code" || cell.trusted);
      if (trusted) connect(panel);
      await panel.revealed;
      addButtons(panel);
      if (trusted) {
        const untouched = !panel.model.dirty;
        await run(panel);
        // Nothing was written by the person: closing the page must not ask to save.
        if (untouched) panel.model.dirty = false;
      } else {
        reveal(panel);
        showCode(panel, true); // what it would run is there to be read first
        const note = say(panel, "This notebook was not put here or run before by this Drinklab, "
          + "so it waits. Run it only if you know where it comes from.");
        note.button("Run it", () => { note.dispose(); run(panel); });
      }
    }

    // JupyterLab writes into a notebook what it finds missing, and which Python: no change of the person's, who has only
    // just opened it, so closing must not ask to save.
    function leaveAsItWas({ model }) {
      const now = () => {
        const { metadata, ...rest } = model.toJSON();
        return JSON.stringify({ ...rest, metadata: { ...metadata, language_info: null, kernelspec: null } });
      };
      const was = now(), clean = () => { if (model.dirty && now() === was) model.dirty = false; };
      clean();
      model.stateChanged.connect((_, { name }) => name === "dirty" && queueMicrotask(clean));
    }

    const reveal = panel => panel.removeClass("drinklab-waits");

    // JupyterLab asks for a kernel once it has looked for checkpoints, but would take that of another page; and it asks
    // for its widgets at once, so it waits here until ours can tell of them.
    const fresh = new WeakMap(); // panel: the id of a kernel whose only widgets are those of its first cell
    function connect(panel) {
      if (fresh.has(panel)) return;
      const session = panel.sessionContext, {path} = panel.context, {initialize} = session;
      if (!sessionStorage.getItem(kept(path))) begin(path);
      const id = sessionStorage.getItem(kept(path)), begun = asked.get(path).then(meet);
      asked.delete(path);
      sessionStorage.removeItem(kept(path)); // the next page begins its own
      fresh.set(panel, null);
      let known = false; // it may be asked for again, when the page has long run
      session.initialize = async () => {
        const {runs, met} = await begun;
        if (known) return initialize.call(session);
        known = true;
        if (runs) fresh.set(panel, id);
        const name = session.kernelPreference.name || "python3";
        const prefer = more => { session.kernelPreference = {...session.kernelPreference, name, ...more}; };
        if (runs !== false) prefer({...(runs ? {id} : {}), shouldReuse: Boolean(met)});
        if (!met) return initialize.call(session);
        // It looks for a session that runs already: it is shown this one alone.
        const manager = session.sessionManager;
        session.sessionManager = Object.assign(Object.create(manager), {
          refreshRunning: async () => {}, running: () => [met.model].values(), connectTo: () => met,
        });
        try {
          return await initialize.call(session);
        } finally {
          session.sessionManager = manager;
          prefer({shouldReuse: false});
        }
      };
      begun.then(({runs}) => runs && session.initialize()).catch(error => console.warn("drinklab", error));
    }

    // A kernel that stopped, or began anew, knows nothing of the sliders on the page: it says so and can begin again.
    const followed = new WeakMap(); // panel: the kernel that it ran, and the note on another
    function follow(panel) {
      if (followed.has(panel)) return;
      const here = { kernel: null, note: null };
      followed.set(panel, here);
      const gone = () => {
        if (!here.kernel || here.note || panel.isDisposed) return;
        here.note = say(panel, "What works out the figures has stopped or begun anew, so the sliders here no longer "
          + "answer.");
        here.note.button("Go on here", () => run(panel));
      };
      panel.sessionContext.iopubMessage.connect((session, { header, parent_header: parent }) => {
        if (header.msg_type === "execute_input" && parent.session === session.session?.kernel?.clientId) {
          here.kernel = header.session;
          here.note?.dispose();
          here.note = null;
        } else if (here.kernel && header.session !== here.kernel) gone();
      });
      panel.sessionContext.statusChanged.connect((_, status) => {
        if (["dead", "terminating", "restarting", "autorestarting"].includes(status)) gone();
      });
      panel.sessionContext.kernelChanged.connect((_, { newValue: kernel }) => kernel || gone());
    }

    async function run(panel) {
      follow(panel);
      const note = say(panel, "Getting the workbook ready: the sliders come in a few seconds "
        + "(the very first time it can take half a minute).");
      const patience = setTimeout(() => reveal(panel), 30_000);
      let done = false;
      try {
        showCode(panel, false);
        await panel.sessionContext.ready;
        const {kernel} = panel.sessionContext.session ?? {};
        if (!kernel || kernel.id !== fresh.get(panel)) await beginAnew(panel.sessionContext);
        fresh.set(panel, null);
        for (const cell of panel.model.cells) if (cell.type === "code") cell.clearExecution();
        // What is seen first is drawn before the rest is even asked for.
        const cells = [...panel.content.widgets], first = cells.findIndex(cell => cell.model.type === "code") + 1;
        const run = some => actions.runCells(panel.content, some, panel.sessionContext);
        done = await run(cells.slice(0, first));
        if (!await shown(panel, done)) { // it did not get all the widgets that were made before it came
          await panel.sessionContext.restartKernel();
          done = await run(cells.slice(0, first));
          await shown(panel, done);
        }
        reveal(panel);
        await frame();
        done = done && await run(cells.slice(first));
      } catch (error) {
        console.error("drinklab", error);
      }
      clearTimeout(patience);
      reveal(panel);
      note.dispose();
      if (panel.isDisposed || done) return;
      say(panel, "The notebook stopped before its end. Choose Kernel, Restart Kernel and Run All Cells "
        + "to try again; what went wrong is shown below.");
    }

    // A kernel that this page has run before, or another page has, holds widgets that nobody knows any more.
    async function beginAnew(session) {
      const kernel = session.session?.kernel, {kernels} = app.serviceManager;
      await kernels.refreshRunning();
      // The page hears of an end later than a hand may ask to go on, and what has ended gives no answer.
      if (!kernel || kernel.status === "dead" || ![...kernels.running()].some(({id}) => id === kernel.id)) {
        await session.sessionManager.refreshRunning(); // which lets go of what has ended
        return session.changeKernel({ name: session.kernelPreference.name });
      }
      const left = await kernel.requestCommInfo({ target_name: "jupyter.widget" });
      if (Object.keys(left.content.comms ?? {}).length) await session.restartKernel();
    }

    function say(panel, text) {
      const note = new Widget();
      note.addClass("drinklab-note");
      note.node.setAttribute("role", "status");
      note.node.append(text);
      note.button = (label, act) => note.node.append(button(label, act));
      panel.contentHeader.addWidget(note);
      panel.contentHeader.show();
      return note;
    }

    function addButtons(panel) {
      const code = button("Show code", () => showCode(panel, panel.hasClass("drinklab-plain")));
      code.classList.add("drinklab-code");
      const books = button("All notebooks", () => app.commands.execute("filebrowser:toggle-main"));
      const item = new Widget();
      item.addClass("drinklab-buttons");
      item.node.append(books, code);
      panel.toolbar.insertItem(0, "drinklab", item);
    }

    // Code folded by its metadata is out of sight, without a bar, until asked for.
    function showCode(panel, shown) {
      panel.toggleClass("drinklab-plain", !shown);
      for (const cell of panel.content.widgets) {
        if (!cell.model.getMetadata("jupyter")?.source_hidden) continue;
        cell.syncCollapse = !shown; // a look at the code is no change of the notebook; true folds again
        if (shown) cell.inputHidden = false;
      }
      panel.toolbar.node.querySelector(".drinklab-code").textContent = shown ? "Hide code" : "Show code";
    }
  }

  // A hidden tab has no frames, hence the clock.
  function frame() {
    return new Promise(go => { requestAnimationFrame(() => setTimeout(go)); setTimeout(go, 200); });
  }

  // Until the sliders of a cell that has run stand on the page; a cell without any is waited for no longer.
  async function shown(panel, ran) {
    const until = performance.now() + 10_000;
    const cell = () => [...panel.content.widgets].find(cell => cell.model.type === "code");
    const waits = () => [...(cell()?.model.outputs?.toJSON() ?? [])]
      .some(output => output.data?.["application/vnd.jupyter.widget-view+json"]);
    const drawn = () => !ran || !waits() || panel.node.querySelector(".jp-OutputArea .jupyter-widgets") !== null;
    while (!drawn() && performance.now() < until) await frame();
    return drawn();
  }

  function inPlain(target) {
    return target instanceof Element && target.closest(".drinklab-plain") !== null;
  }

  function button(label, act) {
    const node = document.createElement("button");
    node.type = "button";
    node.className = "jp-mod-styled drinklab-button";
    node.textContent = label;
    node.addEventListener("click", act);
    return node;
  }
})();
