"""Random lives of a store: add, correct, merge, crash, reopen; nothing is ever lost."""

import shutil
import tempfile
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from tests.store.test_store import recorded

from eavelight.app.record_verify import all_visits, verify_store
from eavelight.model.recorded import Batch, VisitLine
from eavelight.seal import DeviceKey, Head, heads_of, link
from eavelight.store import AlreadyRecorded, open_store

KEYS = [DeviceKey.of_seed(bytes([n]) * 32) for n in (1, 2)]
VISITS = ("V-1", "V-2")


class Life(RuleBasedStateMachine):
    """One SQLite file, and all that was ever acknowledged."""

    def __init__(self):
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.url = f"sqlite:///{self.folder}/r.db"
        self.store = open_store(self.url)
        self.known = {}

    def teardown(self):
        self.store.close()
        shutil.rmtree(self.folder)

    def _link(self, key, visit, body):
        head = heads_of(self.store.observations(visit)).get(key.device, Head())
        return link(
            key, head, visit=visit, kind="reading", body=body,
            recorded_at="2026-04-01T10:00:00Z",
        )  # fmt: skip

    @rule(key=st.sampled_from(KEYS), visit=st.sampled_from(VISITS), value=st.integers())
    def add(self, key, visit, value):
        body = {"schema": 1, "item": {"id": "r1", "value": value % 1000}}
        item = self._link(key, visit, body)
        line = Batch(lines=(VisitLine(visit=visit),))
        self.store.append([item], line)
        self.known[item.id] = item

    @precondition(lambda self: self.known)
    @rule(key=st.sampled_from(KEYS), data=st.data())
    def supersede(self, key, data):
        id = data.draw(st.sampled_from(sorted(self.known)))
        body = {
            "schema": 1, "item": {"id": "r1"}, "supersedes": [id], "reason": "misread",
        }  # fmt: skip
        item = self._link(key, self.known[id].visit, body)
        self.store.append([item])
        self.known[item.id] = item

    @precondition(lambda self: self.known)
    @rule(data=st.data())
    def merge_again(self, data):
        some = data.draw(st.lists(st.sampled_from(sorted(self.known)), max_size=4))
        batch = Batch(observations=tuple(self.known[id] for id in some))
        assert not self.store.merge(batch).anything

    @precondition(lambda self: self.known)
    @rule(data=st.data())
    def take_a_place_twice(self, data):
        id = data.draw(st.sampled_from(sorted(self.known)))
        item = self.known[id]
        other = recorded(item.number, visit=item.visit, device=item.device)
        try:
            self.store.append([other])
        except AlreadyRecorded:
            return
        raise AssertionError("a place in a chain was taken twice")

    @rule()
    def crash(self):
        """Copy the file with its log as a power cut would leave both, and go on."""
        for path in self.folder.glob("r.db*"):
            if path.is_file():
                shutil.copy(path, path.with_name("copy" + path.name[1:]))
        self.store.close()
        self.url = f"sqlite:///{self.folder}/copy.db"
        self.store = open_store(self.url)
        for path in self.folder.glob("r.db*"):
            path.unlink() if path.is_file() else shutil.rmtree(path)
        for path in self.folder.glob("copy.db*"):
            if not path.name.endswith(("-wal", "-shm")) and path.is_file():
                self.store.close()
                path.rename(self.folder / "r.db")
        self.url = f"sqlite:///{self.folder}/r.db"
        self.store = open_store(self.url)

    @invariant()
    def everything_is_there_and_verifies(self):
        assert self.store.find(self.known) == self.known
        found = verify_store(self.store, list(all_visits(self.store)))
        assert found.clean
        for visit in VISITS:
            for device, head in heads_of(self.store.observations(visit)).items():
                chain = [
                    i for i in self.store.observations(visit) if i.device == device
                ]
                assert [i.number for i in chain] == list(range(1, head.number + 1))


TestLife = Life.TestCase
TestLife.settings = settings(max_examples=8, stateful_step_count=12, deadline=None)
