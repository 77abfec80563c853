// What a person hears who does not see the page: a name and a figure with its unit for each slider and box, and folds
// that a key opens. Once for all panels of a page; nothing here changes what is seen.
function speak(panel) {
  for (const dial of panel.querySelectorAll(".dl-dial")) speakDial(dial);
  for (const handle of panel.querySelectorAll(".noUi-handle:not([aria-label])"))
    set(handle, "aria-label", handle.closest(".widget-slider")?.querySelector(".widget-label")?.textContent || "value");
  for (const box of panel.querySelectorAll("input:not([aria-label]), textarea:not([aria-label]), select:not([aria-label])"))
    if (![...(box.labels ?? [])].some(label => label.textContent.trim()))
      set(box, "aria-label", box.title || box.parentElement.title || box.placeholder || "choice");
  for (const wide of panel.querySelectorAll(".dl-wide, .dl-tiles, .drinklab-chart")) { // what scrolls, by keys too
    if (wide.scrollWidth > wide.clientWidth) set(wide, "tabindex", "0");
    else wide.removeAttribute("tabindex");
  }
  for (const header of panel.querySelectorAll(".jupyter-widget-Collapse-header")) {
    set(header, "role", "button");
    set(header, "tabindex", "0");
    set(header, "data-lm-suppress-shortcuts", "true"); // else JupyterLab takes Enter
    set(header, "aria-expanded", String(header.parentElement.classList.contains("jupyter-widget-Collapse-open")));
  }
}

function speakDial(dial) {
  const name = dial.querySelector(".dl-dial-name .dl-said")?.textContent.trim();
  if (!name) return; // it is still being built
  const unit = dial.querySelector(".dl-unit")?.textContent.trim() ?? "";
  const box = dial.querySelector(".dl-number input"), handle = dial.querySelector(".noUi-handle");
  set(box, "aria-label", unit ? `${name} [${unit}]` : name);
  set(handle, "aria-label", name);
  set(handle, "aria-valuetext", `${box?.value ?? ""} ${unit}`.trim());
}

function set(node, name, value) {
  if (node && node.getAttribute(name) !== value) node.setAttribute(name, value);
}

function press(event) {
  const header = event.target.closest?.(".dl-bench .jupyter-widget-Collapse-header");
  if (!header || (event.key !== "Enter" && event.key !== " ")) return;
  event.preventDefault();
  event.stopPropagation();
  header.click();
}

function render({ el }) {
  let timer = null, panel = null;
  const now = () => { timer = null; if (panel?.isConnected) speak(panel); };
  // When the page has nothing else to do: figures are drawn first.
  const soon = () => { timer ??= setTimeout(() => requestIdleCallback(now, {timeout: 1000}), 120); };
  const change = records => {
    for (const { target, addedNodes } of records) // a new slider has its name before it can be reached
      for (const added of addedNodes)
        for (const dial of [target.closest(".dl-dial"), ...added.querySelectorAll?.(".dl-dial") ?? []])
          if (dial?.querySelector(".noUi-handle:not([aria-label])")) speakDial(dial);
    soon();
  };
  const watch = new MutationObserver(change), sizes = new ResizeObserver(soon);
  const begin = () => {
    panel = el.closest(".dl-bench");
    if (!panel) return void (timer = setTimeout(begin, 100));
    timer = null;
    speak(panel);
    watch.observe(panel, {subtree: true, childList: true, attributes: true,
                          attributeFilter: ["aria-valuenow", "class"]});
    panel.addEventListener("keydown", press, true);
    sizes.observe(panel);
  };
  begin();
  return () => { clearTimeout(timer); watch.disconnect(); sizes.disconnect(); panel?.removeEventListener("keydown", press, true); };
}
export default { render };
