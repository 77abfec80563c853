// What stands in the box goes with the asking itself. The kernel's own copy of the box lags behind while the kernel is
// busy: letters wait in the page for the kernel's answer, and a key that is pressed does not.
function render({ model, el }) {
  let row = null, timer = null, waits = null;
  const ask = event => {
    const asks = event.type === "click" ? event.target.closest("button") : event.key === "Enter" && event.target.matches("input");
    if (!asks) return;
    event.preventDefault();
    event.stopPropagation(); // else it is asked once more, without the text
    const text = row.querySelector("input").value;
    if (text === waits) return; // pressed twice, and the first not answered yet
    waits = text;
    model.send({ text });
  };
  const answered = () => { waits = null; };
  const begin = () => {
    row = el.closest(".dl-ask");
    if (!row) return void (timer = setTimeout(begin, 50));
    for (const kind of ["keypress", "click"]) row.addEventListener(kind, ask, true);
  };
  model.on("msg:custom", answered);
  begin();
  return () => {
    clearTimeout(timer);
    model.off("msg:custom", answered);
    for (const kind of ["keypress", "click"]) row?.removeEventListener(kind, ask, true);
  };
}
export default { render };
