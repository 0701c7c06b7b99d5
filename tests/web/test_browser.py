"""The application in a real browser, from an empty record to the hand-over."""

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomli_w
from conftest_web import PHONE, SHOTS, SIZES, Served, new_page, open_demo

from eavelight.app.visit_folder import read_visit_folder
from eavelight.demo.evidence import face_bytes, photo_bytes, trace_bytes
from eavelight.demo.plans import start_of
from eavelight.demo.readings import full_log
from eavelight.demo.truth import House, Tools
from eavelight.web.demo_shelf import FRESH, FRESH_ID, fresh_table

AXE = Path(__file__).parent / "vendor" / "axe.min.js"
VISIT = f"/demo/visits/{FRESH_ID}"
OWN = f"/own/visits/{FRESH_ID}"
LESSON = "/demo/visits/D-102"
# whether the last step is kept for when the server does not answer
KEPT = f"caches.match('{OWN}/ladder/clean-up').then((found) => !!found)"
WAITING = """new Promise((done) => {
indexedDB.open("eavelight").onsuccess = (event) => {
event.target.result.transaction("waiting").objectStore("waiting").count().onsuccess =
(found) => done(found.target.result); }; })"""
HOUSE = House(drop_m=30.0 + 6.0 * FRESH)
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def demo(browser: Any, served: Served) -> Served:
    page = new_page(browser, served, java_script_enabled=False)
    open_demo(page)
    while page.get_by_text("still being looked at").count():
        page.wait_for_timeout(1000)
        page.reload()
    page.context.close()
    return served


def answers() -> dict[str, Any]:
    """What an honest crew reads at the invented house, by question."""
    table = fresh_table(start_of(FRESH))
    log = full_log(
        start_of(FRESH), HOUSE, Tools(np.random.default_rng(3)), table, rehearsal=False
    )
    found: dict[str, Any] = {}
    for entry in log.entries:
        state = entry.get("state", "")
        state = state if isinstance(state, str) else state[0]
        key = (entry["what"], entry["at"], entry.get("wavelength_nm"))
        found[(*key, state, entry.get("end"), entry.get("kind"))] = entry["value"]
        found.setdefault(key, entry["value"])
    return found


READ = answers()
NUMBERS = {
    "port-level": ("level", "port", 1490),
    "cleave-cable": ("cleave_angle", "pigtail splice", None),
    "cleave-pigtail": ("cleave_angle", "pigtail splice", None),
    "estimate-before": ("splice_estimate", "pigtail splice", None),
    "estimate-after": ("splice_estimate", "pigtail splice", None),
    "insulation": ("insulation", "supply", None),
    "loop": ("loop_resistance", "supply", None),
    "volts-supply-no-load": ("volts", "supply", None),
    "volts-terminal-no-load": ("volts", "terminal", None),
    "volts-terminal-loaded": ("volts", "terminal", None, "loaded", None, None),
    "open-loss-1310": ("loss", "drop", 1310),
    "open-loss-1550": ("loss", "drop", 1550),
    "loss-1310": ("loss", "drop", 1310),
    "loss-1550": ("loss", "drop", 1550),
    "terminal-level": ("level", "terminal", 1490),
}
OTHERS = {
    "outside-temperature": "9",
    "tray-radius": "35",
    "foreign-ac": "0",
    "foreign-dc": "0,1",
    "battery-temperature": "14",
    "stable": "840",
    "port-label": f"4/{10 + FRESH}",
    "port-registered": f"4/{10 + FRESH}",
    "fibre-seen": f"1/{FRESH}",
}
CHOSEN = {
    "port-in-use": "no",
    "fibre-light": "follows the switching",
    "sleeve-on": "clear",
    "sleeve-after": "clear",
    "neighbours": "no",
    "backup-choice": "accepted",
    "port-polish-plug": "angled",
    "port-polish-adapter": "angled",
    "terminal-polish-plug": "angled",
    "terminal-polish-adapter": "angled",
    "port-face-plug": "pass",
    "port-face-adapter": "pass",
    "terminal-face-adapter": "pass",
    "terminal-face-equipment": "pass",
}


def file_for(question: str) -> dict[str, Any]:
    """A file that the crew's tools would give for a question."""
    if question.startswith("trace-"):
        data = trace_bytes(
            HOUSE,
            int(question[6:]),
            visit=FRESH_ID,
            time=start_of(FRESH),
            rng=np.random.default_rng(int(question[6:])),
            seed=77,
        )
        return {"name": "../x.sor", "mimeType": "text/html", "buffer": data}
    if question.startswith("photo-"):
        data = photo_bytes(question[6:], visit=FRESH_ID, text="invented")
    else:
        data = face_bytes(FRESH)
    return {"name": "a.png", "mimeType": "image/png", "buffer": data}


def question_of_url(url: str) -> str:
    return re.sub(r"[?#].*", "", url).rpartition("/")[2]


def question_of(page: Any) -> str:
    return question_of_url(page.url)


def answer_one(page: Any, question: str) -> None:
    """Answer the question on the screen as its form asks."""
    form = page.locator("form.entry").first
    if question in CHOSEN:
        page.get_by_role("button", name=CHOSEN[question], exact=True).click()
    elif question.startswith("entry-"):
        page.get_by_role("button", name="good", exact=True).click()
    elif question in NUMBERS or question in OTHERS:
        value = OTHERS.get(question) or str(READ[NUMBERS.get(question)])
        page.fill("#value", value)
        if question == "fibre-seen":
            page.fill("#colour", "yellow")
            page.fill("#strands", "2")
        page.get_by_role("button", name="Save and next").click()
    elif question.startswith(("trace-", "photo-")) or question == "terminal-face-plug":
        page.set_input_files("#file", file_for(question))
        if question.startswith("trace-"):
            page.fill("#lead_m", "150")
        if question == "terminal-face-plug":
            page.select_option("#cleaning", "dry")
        page.get_by_role("button", name="Save and next").click()
    elif question == "online-at":
        # before the 840 s of the next answer; this crew works faster than any real one
        past = "new Date(Date.now() - 15 * 60000).toTimeString().slice(0, 5)"
        page.fill("#value", page.evaluate(past))
        page.get_by_role("button", name="Save and next").click()
    elif question.startswith("before-"):
        page.fill("#why_not", "invented rehearsal")
        form.get_by_role("button").click()
    else:
        page.get_by_text("Could not measure").click()
        page.fill("#why", "not part of this house")
        page.get_by_role("button", name="Save the reason").click()


def left(page: Any, question: str) -> None:
    """Wait until the page after a question is there; say what it told if not."""
    from playwright.sync_api import TimeoutError as Late

    try:
        page.wait_for_url(lambda url: question_of_url(url) != question)
    except Late:
        pytest.fail(f"{question}: {page.locator('main').inner_text()[:600]}")


def test_a_turn_up_from_empty_to_hand_over_on_a_telephone(browser, demo):
    page = new_page(browser, demo)
    page.goto(f"{VISIT}/ladder")
    page.get_by_role("button", name="Begin the work now").click()
    seen = []
    for _ in range(90):
        page.wait_for_load_state()
        question = question_of(page)
        if question in seen or question == "ladder":
            break
        seen.append(question)
        if page.locator("form.entry").count() == 0:
            page.goto(f"{VISIT}/ladder/next")
            continue
        answer_one(page, question)
        left(page, question)
    page.goto(f"{VISIT}/ladder")
    assert page.locator(".count").inner_text() == "18 of 18"
    state = page.locator(".state").inner_text()
    assert state.strip() == "✓ READY", page.locator("main").inner_text()[:900]
    page.get_by_role("button", name="The work is done").click()
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Closeout as PDF").click()
    assert Path(waiting.value.path()).read_bytes().startswith(b"%PDF-")
    page.get_by_role("button", name="Seal it now").click()
    page.get_by_text("Not sealed yet").wait_for(state="detached")
    assert not page.problems
    assert len(page.locator(".hash").inner_text()) == 64
    page.context.close()


def test_a_first_reading_is_judged_after_entry_and_can_be_undone(browser, demo):
    page = new_page(browser, demo)
    page.goto("/demo/visits/D-105/ladder/port-level")
    assert "expected" not in page.locator("main").inner_text().lower()
    page.fill("#value", "−21,5")
    page.get_by_role("button", name="Save and next").click()
    told = page.locator(".told")
    told.wait_for()
    assert "light is lost" in told.inner_text()
    told.get_by_role("button", name="Undo").click()
    page.wait_for_url("**/ladder/port-level")
    assert page.locator(".before").count() == 0
    page.context.close()


def own_visit(browser, folder: Path) -> tuple[Served, Any]:
    """A server of its own with the invented work order begun, and a page on it."""
    order = folder / "order.toml"
    order.write_text(tomli_w.dumps(fresh_table(start_of(FRESH))), encoding="utf-8")
    own = Served(folder).start()
    page = new_page(browser, own)
    page.goto("/own/new")
    page.set_input_files("#file", str(order))
    page.get_by_role("button", name="Take the work order").click()
    page.get_by_role("button", name="Begin the work now").click()
    page.goto(f"{OWN}/ladder")
    for _ in range(100):
        if page.evaluate(KEPT):
            return own, page
        page.wait_for_timeout(300)
    pytest.fail("the pages of the ladder are not kept")


def waits(page: Any, text: str) -> None:
    page.locator("#waiting", has_text=text).wait_for()


def test_nothing_is_lost_when_the_server_dies_and_the_work_goes_on(browser, tmp_path):
    own, page = own_visit(browser, tmp_path)
    try:
        page.goto(f"{OWN}/ladder/port-level")
        page.fill("#value", "-15.9")
        page.get_by_role("button", name="Save and next").click()
        page.locator(".told").wait_for()
        page.goto(f"{OWN}/ladder/loop")
        own.kill()
        page.fill("#value", "1.02")
        page.get_by_role("button", name="Save and next").click()
        # the next question is there although nobody answers
        left(page, "loop")
        waits(page, "1 entry waits")
        page.locator("#away").wait_for()
        page.goto(f"{OWN}/ladder/photo-supply")
        page.set_input_files("#file", file_for("photo-supply"))
        page.get_by_role("button", name="Save and next").click()
        waits(page, "2 entries wait")
        page.goto(f"{OWN}/ladder/loss-1310")
        page.fill("#value", "99999")
        page.get_by_role("button", name="Save and next").click()
        waits(page, "3 entries wait")
        # the browser dies too: the list outlives its pages
        context = page.context
        page.close()
        own.start()
        page = context.new_page()
        page.goto(f"{OWN}/ladder")
        page.locator("#refused", has_text="99999").wait_for(timeout=30_000)
        page.get_by_role("button", name="Seen").click()
        page.locator("#refused").wait_for(state="hidden")
        page.reload()
        text = page.locator("main").inner_text()
        assert "−15.9 dBm" in text
        assert "1.02 Ω" in text
        row = page.locator(".steps li", has_text="supply and battery").last
        assert "done" in row.inner_text()
        page.wait_for_function(f"() => {WAITING}.then((n) => n === 0)")
        page.context.close()
    finally:
        own.stop()


def test_no_step_is_called_clear_while_nobody_can_tell(browser, tmp_path):
    own, page = own_visit(browser, tmp_path)
    try:
        gate = f"{OWN}/ladder/before-cut"
        page.goto(gate)
        page.locator("[data-gate]").wait_for()
        assert page.locator("#gate-away").is_hidden()
        page.goto(f"{OWN}/ladder/fibre-light")
        own.kill()
        page.get_by_role("button", name="stays dark", exact=True).click()
        waits(page, "1 entry waits")
        page.goto(gate)
        page.locator("#gate-away").wait_for()
        page.locator("[data-gate]").wait_for(state="hidden")
        # the list knows what waits, and the next question is another one
        page.goto(f"{OWN}/ladder")
        row = page.locator(".steps li", has_text="the uncut fibre").last
        page.wait_for_function(
            "(row) => row.dataset.waits === 'waits'", arg=row.element_handle()
        )
        own.start()
        page.locator("#away").wait_for(state="hidden", timeout=30_000)
        page.goto(gate)
        page.locator(".against").wait_for()
        assert page.locator("#gate-away").is_hidden()
        page.context.close()
    finally:
        own.stop()


def test_the_desk_holds_a_visit_and_says_why(browser, demo):
    page = new_page(browser, demo, viewport=SIZES[1280])
    page.goto("/demo/")
    # exceptions stand first; of the others, what is not ready
    rows = page.locator(".queue tbody tr")
    assert "NOT READY" in rows.filter(has_not_text="exception").first.inner_text()
    page.goto(LESSON)
    page.get_by_role("button", name="Hold").click()
    page.get_by_role("alert").wait_for()
    page.get_by_label("Reason").fill("waits for the trace from the port")
    page.get_by_role("button", name="Hold").click()
    page.locator(".just").wait_for()
    assert (
        "held: waits for the trace from the port" in page.locator(".just").inner_text()
    )
    assert not page.url.startswith(demo.url + LESSON)
    page.goto(LESSON)
    assert page.locator(".decision strong").inner_text() == "held"
    page.goto("/demo/?decision=hold")
    assert page.locator(".queue tbody tr").count() == 1
    page.goto(LESSON)
    page.locator("details", has_text="Evidence").first.click()
    assert page.locator("details[open] li").first.is_visible()
    page.context.close()


def test_everything_works_without_script(browser, demo):
    page = new_page(browser, demo, java_script_enabled=False)
    page.goto("/demo/visits/D-105/ladder/loss-1550")
    page.fill("#value", "0.48")
    page.get_by_role("button", name="Save and next").click()
    assert "0.48 dB" in page.locator(".told").inner_text()
    page.goto("/demo/visits/D-105/ladder/photo-label-port")
    page.set_input_files("#file", file_for("photo-label-port"))
    page.get_by_role("button", name="Save and next").click()
    assert "file kept" in page.locator(".told").inner_text()
    page.goto(LESSON)
    page.locator(".files a", has_text="Trace").first.click()
    page.locator("#drawn img").wait_for()
    page.context.close()


def test_a_question_is_answered_by_keyboard_alone(browser, demo):
    page = new_page(browser, demo)
    page.goto("/demo/visits/D-105/ladder/stable")
    for _ in range(30):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "value":
            break
    assert page.evaluate("document.activeElement.id") == "value"
    page.keyboard.type("700")
    page.keyboard.press("Enter")
    page.locator(".told").wait_for()
    assert "700 s" in page.locator(".told").inner_text()
    page.context.close()


def test_the_trace_viewer_zooms_and_lays_over_by_keyboard(browser, demo):
    page = new_page(browser, demo, viewport=SIZES[1280])
    page.goto(LESSON)
    page.locator(".files a", has_text="Trace").first.click()
    page.locator("#viewer canvas").wait_for()
    page.locator("#drawn").wait_for(state="hidden")
    page.focus("#chart")
    page.keyboard.press("n")
    page.locator("#reading", has_text=" m").wait_for()
    page.locator("[data-overlay]").first.focus()
    page.keyboard.press("Space")
    page.locator(".u-series").nth(2).wait_for()
    assert not page.problems
    page.context.close()


PAGES = {
    "start": "/",
    "new": "/own/new",
    "queue": "/demo/",
    "visit": LESSON,
    "everything": f"{LESSON}?all=yes",
    "repair": "/demo/visits/D-106",
    "compare": "/demo/visits/D-106/compare/D-101",
    "away": "/away",
    "who": "/who",
    "ladder": "/demo/visits/D-105/ladder",
    "work-order": f"{VISIT}/ladder/work-order",
    "number": f"{VISIT}/ladder/port-level",
    "choice": f"{VISIT}/ladder/fibre-light",
    "text": f"{VISIT}/ladder/fibre-seen",
    "point": "/demo/visits/D-105/ladder/before-close",
    "marks": f"{VISIT}/ladder/cut-marks",
    "face-question": f"{VISIT}/ladder/terminal-face-plug",
    "plan": f"{VISIT}/plan",
    "handover": f"{LESSON}/handover",
    "nothing": "/demo/visits/none",
}


def links_of(page: Any) -> dict[str, str]:
    """The trace and the end-face page of the lesson."""
    page.goto(LESSON)
    found = {}
    for name in ("trace", "face"):
        link = page.locator(f".files a[href*='/{name}/']").first
        found[name] = link.get_attribute("href")
    return found


def test_every_page_passes_the_audit_and_fits_every_screen(browser, demo):
    page = new_page(browser, demo)
    SHOTS.mkdir(parents=True, exist_ok=True)
    script = AXE.read_text(encoding="utf-8")
    wrong = []
    for name, address in {**PAGES, **links_of(page)}.items():
        page.goto(address)
        for width, size in SIZES.items():
            page.set_viewport_size(size)
            page.wait_for_load_state("networkidle")
            page.screenshot(path=SHOTS / f"{name}-{width}.png", full_page=True)
            wide = page.evaluate("document.documentElement.scrollWidth")
            if wide > width:
                wrong.append(f"{name} {width}: {wide} px wide")
        page.evaluate(script)
        found = page.evaluate(
            "axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa',"
            " 'best-practice']}).then(r => r.violations.map(v => ({id: v.id,"
            " nodes: v.nodes.slice(0, 3).map(n => n.html.slice(0, 160))})))"
        )
        wrong += [f"{name}: {json.dumps(item)}" for item in found]
    assert not wrong, "\n".join(wrong)
    page.context.close()


def test_touch_targets_of_the_ladder_are_large_and_apart(browser, demo):
    page = new_page(browser, demo, viewport=PHONE)
    for question in ("port-level", "fibre-light", "terminal-face-plug", "before-cut"):
        page.goto(f"{VISIT}/ladder/{question}")
        for item in page.locator("main button:visible, main a.button:visible").all():
            box = item.bounding_box()
            assert box["height"] >= 64, item.inner_text()
            assert box["width"] >= 64, item.inner_text()
    page.context.close()


def test_first_page_is_small_and_asks_nobody_else(browser, demo):
    page = new_page(browser, demo)
    sizes, strange = [], []
    page.on("response", lambda answer: sizes.append(len(answer.body())))
    page.on(
        "request",
        lambda asked: None if asked.url.startswith(demo.url) else strange.append(asked),
    )
    page.goto("/")
    page.wait_for_load_state("networkidle")
    assert sum(sizes) < 300_000
    assert not strange
    page.context.close()


def test_the_demo_order_is_a_plan_that_can_be_read(tmp_path):
    from eavelight.app.names import known_names

    text = tomli_w.dumps(fresh_table(start_of(FRESH)))
    (tmp_path / "visit.toml").write_text(text, encoding="utf-8")
    assert not read_visit_folder(tmp_path, known_names()).visit.readings
