"""A kernel that has run a page's first cell before the page is there to ask for it.

While a page loads, its kernel would wait. It is told the code of the first cell instead (by a server that has seen
that the notebook may run by itself), runs it, and keeps its value; when the page asks for that same cell, the value is
there. The page takes all its widgets in one message, as any page does that connects to a kernel with widgets, where
they would come one by one. Code that fails, prints, or is not what the page asks for is run again, as usual.
"""

from __future__ import annotations

import ast
import base64
import contextlib
from collections.abc import Iterator
from typing import Any

import comm
from comm.base_comm import BaseComm
from ipykernel.ipkernel import IPythonKernel
from IPython.utils.capture import capture_output
from ipywidgets import Widget
from tornado.ioloop import IOLoop

from .comms import PageComm, together


@contextlib.contextmanager
def _alone() -> Iterator[None]:
    """Nobody is there to be told of a widget, so that none is written out: half the work of making it."""

    def opened(widget: Widget) -> None:
        if widget.comm is None:
            for name in widget.keys:
                getattr(widget, name)  # its layout and style are made when first looked at
            widget.comm = PageComm(target_name="jupyter.widget")

    kept = PageComm.alone, Widget.open, Widget.send_state
    PageComm.alone, Widget.open, Widget.send_state = True, opened, lambda *_, **__: None
    try:
        yield
    finally:
        PageComm.alone, Widget.open, Widget.send_state = kept


def _asked(control: BaseComm, opened: dict[str, Any]) -> None:
    """Tell a page that asks of all widgets, as ipywidgets would; but once."""
    Widget.handle_control_comm_opened(control, opened)
    control.on_msg(lambda _: control.send(*_widgets()))


def _widgets() -> tuple[dict[str, Any], None, list[bytes]]:
    """All widgets as they stand; what is binary goes beside, and what a layout leaves open goes without saying."""
    states, paths, binary = Widget.get_manager_state()["state"], [], []
    for key, one in states.items():
        for held in one.pop("buffers", ()):
            paths.append([key, "state", *held["path"]])
            binary.append(base64.b64decode(held["data"]))
        if one["model_name"] == "LayoutModel":
            one["state"] = {name: value for name, value in one["state"].items() if value is not None}
    return {"method": "update_states", "states": states, "buffer_paths": paths}, None, binary


def value_of(code: str, names: dict[str, Any]) -> Any:
    """What the last line of some code gives; code that ends otherwise is not run at all.

    Parameters
    ----------
    code : str
        Python, of which the last statement is an expression.
    names : dict
        What it finds and leaves, by name.

    Returns
    -------
    object
        The value; None too where the last statement is no expression.

    Examples
    --------
    >>> value_of("a = 6\\na * 7", {})
    42
    """
    tree = ast.parse(code)
    if not tree.body or not isinstance(tree.body[-1], ast.Expr):
        return None
    last = tree.body.pop()
    exec(compile(tree, "<first cell>", "exec"), names)
    return eval(compile(ast.Expression(last.value), "<first cell>", "eval"), names)


class _Told(ast.NodeTransformer):
    """Puts a name in place of a cell that would give its value."""

    NAME = "_value_of_the_first_cell"

    def visit(self, node: ast.AST) -> ast.AST:
        return ast.parse(self.NAME)


class Kernel(IPythonKernel):
    """Python, with one cell that may be run already, and one answer to one move."""

    first = ""  # the code of that cell
    _value: Any = None

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        comm.create_comm = PageComm
        self.shell_handlers["comm_msg"] = self._comm_msg

    def _comm_msg(self, *told: Any) -> None:
        """A widget was moved: what that changes goes to the page in one message."""
        with together():
            self.comm_manager.comm_msg(*told)

    def start(self) -> None:
        """Start; the cell goes before whatever the page may ask."""
        self.comm_manager.register_target("jupyter.widget.control", _asked)
        if self.first:
            IOLoop.current().add_callback(self.run_ahead)
        super().start()

    def run_ahead(self) -> None:
        """Run the cell as if alone; what cannot be shown later just as it would be now is dropped."""
        with _alone(), capture_output() as said:
            with contextlib.suppress(Exception):  # the page will ask for it, and show it then
                self._value = value_of(self.first, self.shell.user_ns)
            if said.stdout or said.stderr or said.outputs:
                self._value = None
            if self._value is None:
                Widget.close_all()

    async def do_execute(self, code: str, silent: bool, store_history: bool = True, *args: Any, **given: Any) -> Any:
        """Run code, or show what running it ahead has given."""
        if silent or self._value is None:
            return await super().do_execute(code, silent, store_history, *args, **given)
        value, self._value = self._value, None
        if code != self.first:
            Widget.close_all()  # the page knows none of them
            return await super().do_execute(code, silent, store_history, *args, **given)
        told = _Told()
        self.shell.user_ns[_Told.NAME] = value
        self.shell.ast_transformers.append(told)
        try:
            return await super().do_execute(code, silent, store_history, *args, **given)
        finally:
            self.shell.ast_transformers.remove(told)
            del self.shell.user_ns[_Told.NAME]
