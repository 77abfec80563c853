"""How pytest-xdist shares the tests out: by files, with all that need a browser as one, the longest, first."""

from xdist.scheduler import LoadFileScheduling

BROWSER = "tests/browser"


class OneBrowser(LoadFileScheduling):
    """One worker waits for the browser while the others go through the files; then it helps them."""

    def _split_scope(self, nodeid: str) -> str:
        return BROWSER if nodeid.startswith(f"{BROWSER}/") else super()._split_scope(nodeid)

    def _assign_work_unit(self, node) -> None:
        if BROWSER in self.workqueue:
            self.workqueue.move_to_end(BROWSER, last=False)
        super()._assign_work_unit(node)
