// Written by hand, not bundled: JupyterLab loads it as it loads any prebuilt extension.
(() => {
  const here = document.currentScript.src.replace(/[^/]*$/, "");
  let shared;

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
      if (plain && inPlain(event) && !event.target.closest("input, textarea, select, [contenteditable=true]"))
        event.stopPropagation();
    }, true);
    window.addEventListener("dblclick", event => {
      if (inPlain(event) && event.target.closest(".jp-MarkdownCell")) event.stopPropagation();
    }, true);

    const seen = new WeakSet();
    // Only a notebook that is looked at is run, not every tab that a reload brings back.
    const look = panel => {
      if (!panel || seen.has(panel)) return;
      seen.add(panel);
      open(panel).catch(error => console.error("drinklab", error));
    };
    tracker.currentChanged.connect((_, panel) => look(panel));
    look(tracker.currentWidget);

    async function open(panel) {
      await panel.context.ready;
      if (panel.model.getMetadata("drinklab")?.run_on_open !== true) return;
      await panel.revealed;
      addButtons(panel);
      const trusted = [...panel.model.cells].every(cell => cell.type !== "code" || cell.trusted);
      if (trusted) {
        const untouched = !panel.model.dirty;
        await run(panel);
        // Nothing was written by the person: closing the page must not ask to save.
        if (untouched) panel.model.dirty = false;
      } else {
        showCode(panel, true); // what it would run is there to be read first
        const note = say(panel, "This notebook was not put here or run before by this Drinklab, "
          + "so it waits. Run it only if you know where it comes from.");
        note.button("Run it", () => { note.dispose(); run(panel); });
      }
    }

    // Pages of one notebook share its kernel, which starts anew with each, also with one in another browser, and after
    // it broke off: a page that hears from another kernel than it ran says so and can take over. One that still waits
    // to be trusted has nothing to take over.
    const followed = new WeakMap(); // panel: the kernel that it ran, and the note on another
    function follow(panel) {
      if (followed.has(panel)) return;
      const here = { kernel: null, note: null };
      followed.set(panel, here);
      panel.sessionContext.iopubMessage.connect((session, { header, parent_header: parent }) => {
        if (header.msg_type === "execute_input" && parent.session === session.session?.kernel?.clientId) {
          here.kernel = header.session;
          here.note?.dispose();
          here.note = null;
        } else if (here.kernel && header.session !== here.kernel && !here.note) {
          here.note = say(panel, "This notebook was opened on another page, or its kernel stopped and began anew, so "
            + "the sliders here no longer answer. Go on there, or:");
          here.note.button("Go on here", () => run(panel));
        }
      });
    }

    async function run(panel) {
      follow(panel);
      const note = say(panel, "Getting the workbook ready: the sliders come in a few seconds "
        + "(the very first time it can take half a minute).");
      let done = false;
      try {
        showCode(panel, false);
        await panel.sessionContext.ready;
        await beginAnew(panel.sessionContext);
        for (const cell of panel.model.cells) if (cell.type === "code") cell.clearExecution();
        done = await actions.runCells(panel.content, panel.content.widgets, panel.sessionContext);
      } catch (error) {
        console.error("drinklab", error);
      }
      note.dispose();
      if (panel.isDisposed || done) return;
      say(panel, "The notebook stopped before its end. Choose Kernel, Restart Kernel and Run All Cells "
        + "to try again; what went wrong is shown below.");
    }

    // A page that was closed or reloaded leaves its kernel running, with widgets that this page does not know.
    async function beginAnew(session) {
      const left = await session.session.kernel.requestCommInfo({ target_name: "jupyter.widget" });
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

  function inPlain(event) {
    return event.target instanceof Element && event.target.closest(".drinklab-plain") !== null;
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
