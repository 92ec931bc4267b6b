"""The page on a phone and on a desk, light and dark."""

import itertools

import pytest

BOTH = list(itertools.product([375, 1280], ["light", "dark"]))

# WCAG 2.2, relative luminance and contrast ratio; 1.4.3: 4.5 for text, 1.4.11: 3 for what carries meaning.
CONTRAST = """() => {
  const channel = (c) => ((c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
  const luminance = (c) => 0.2126 * channel(c[0]) + 0.7152 * channel(c[1]) + 0.0722 * channel(c[2]);
  const colour = (text) => (text.match(/[0-9.]+/g) || []).map(Number);
  const behind = (node) => {
    for (let at = node; at; at = at.parentElement) {
      const c = colour(getComputedStyle(at).backgroundColor);
      if (c.length === 3 || c[3] === 1) return c;
    }
    return [255, 255, 255];
  };
  const ratio = (a, b) => {
    const [high, low] = [luminance(a), luminance(b)].sort((x, y) => y - x);
    return (high + 0.05) / (low + 0.05);
  };
  const found = { text: [], marks: [] };
  for (const node of document.querySelectorAll("body *")) {
    const style = getComputedStyle(node);
    if (style.visibility === "hidden" || !node.getClientRects().length) continue;
    const own = [...node.childNodes].some((child) => child.nodeType === 3 && child.data.trim());
    if (own && !["SCRIPT", "STYLE", "title", "desc"].includes(node.tagName)) {
      const ink = node.namespaceURI.endsWith("svg") ? style.fill : style.color;
      found.text.push([ratio(colour(ink), behind(node)), node.textContent.slice(0, 40)]);
    }
    if (node.matches(".line, .wave, .heavy, .dashed, .step, .set-value, .sign path, rect.bar, .back, .hold, .quiet")) {
      const ink = node.tagName === "rect" ? style.fill : style.stroke;
      if (ink !== "none") found.marks.push([ratio(colour(ink), behind(node)), node.outerHTML.slice(0, 60)]);
    }
  }
  const least = (list) => list.reduce((a, b) => (b[0] < a[0] ? b : a));
  return { texts: found.text.length, text: least(found.text), marks: found.marks.length, mark: least(found.marks) };
}"""


@pytest.mark.parametrize("width,scheme", BOTH)
def test_nothing_scrolls_sideways_and_nothing_complains(opened, width, scheme):
    page = opened(width, scheme)
    page.locator("#time svg.plot[role=img]").nth(3).click()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.complaints == []
    assert len(page.requests) == 1, page.requests


@pytest.mark.parametrize("width,scheme", BOTH)
def test_text_and_marks_stand_out(opened, width, scheme):
    page = opened(width, scheme)
    page.locator("#time svg.plot[role=img]").nth(3).click()
    got = page.evaluate(CONTRAST)
    assert got["texts"] > 300 and got["marks"] > 30, got
    assert got["text"][0] >= 4.5 and got["mark"][0] >= 3.0, got


def test_no_text_is_too_small_to_read(opened):
    sizes = opened(375).evaluate(
        """() => [...document.querySelectorAll("body *")]
            .filter((n) => [...n.childNodes].some((c) => c.nodeType === 3 && c.data.trim()) && n.getClientRects().length)
            .map((n) => parseFloat(getComputedStyle(n).fontSize))"""
    )
    assert min(sizes) >= 11, min(sizes)


def test_the_top_fits_a_desk_and_three_phones(opened):
    # The lists under the answers end within one desk page of A4 proportions, and within three phone screens.
    end = "document.querySelector('.lists').getBoundingClientRect().bottom + scrollY"
    assert opened(1280).evaluate(end) <= 1280 * 297 / 210
    assert opened(375).evaluate(end) <= 3 * 812


def test_what_is_said_to_who_cannot_see(opened):
    page = opened()
    assert page.evaluate("document.documentElement.lang") == "en"
    assert "demo" in page.title()
    assert page.locator("main").count() == 1 and page.locator("h1").count() == 1
    assert page.locator("th:not([scope])").count() == 0
    assert page.locator("table").count() == page.locator("table > caption").count() > 5
    ids = page.evaluate("[...document.querySelectorAll('[id]')].map((n) => n.id)")
    assert len(ids) == len(set(ids)), sorted(i for i in ids if ids.count(i) > 1)
    for plot in page.locator("svg.plot[role=img]").all():
        named = plot.evaluate("n => document.getElementById(n.getAttribute('aria-labelledby'))?.textContent ?? ''")
        hidden = plot.evaluate("n => !n.getClientRects().length")
        assert named or hidden, plot.evaluate("n => n.outerHTML.slice(0, 80)")
    # Every question leads to its section.
    for link in page.locator("a[href^='#']").all():
        assert page.locator(link.get_attribute("href")).count() == 1


def test_by_keyboard_alone(opened):
    page = opened()
    page.locator("#try-threshold").focus()
    before = page.locator("#said-threshold").text_content()
    line = page.locator(".tried.threshold")
    at = line.get_attribute("x1")
    page.keyboard.press("ArrowRight")
    assert page.locator("#said-threshold").text_content() != before
    assert line.get_attribute("x1") != at
    page.locator("#moment").focus()
    page.keyboard.press("ArrowLeft")
    assert "mL/kg" in page.locator("#said-moment").text_content()
    assert page.locator("#waves path").count() == 2
    # Whatever can be used can be reached.
    reached = set()
    page.locator("body").click(position={"x": 1, "y": 1})
    for _ in range(200):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("document.activeElement.id || document.activeElement.textContent.slice(0, 30)"))
    for wanted in ["moment", "try-threshold", "try-level", "try-target", "How this comes about", "What reaches the lung?"]:
        assert wanted in reached, (wanted, reached)


def drawn(page):
    """Whether the lines of what is tried are drawn; one that is upright has no width to be seen by."""
    tried = page.locator(".tried").evaluate_all("ns => ns.map((n) => getComputedStyle(n).visibility)")
    assert len(tried) > 2
    return set(tried)


def test_a_target_is_tried(opened):
    page = opened()
    page.locator("#try-target").focus()
    page.keyboard.press("Home")
    # The lowest of forty up to 10 mL/kg, of 0.98 kg.
    assert page.locator("#said-target").text_content().startswith("0.25 mL/kg, 0.2 mL: a peak of ")
    assert drawn(page) == {"visible"}
    assert page.locator(".tried.target").get_attribute("x1") == "2.5%"
    page.keyboard.press("End")
    assert page.locator("#said-target").text_content().startswith("10.00 mL/kg, 9.8 mL: a peak of ")
    assert "% of inflations need more than the set peak" in page.locator("#said-target").text_content()
    assert page.locator(".tried.target").get_attribute("x1") == "100%"


def test_a_click_shows_the_minute(opened):
    page = opened()
    plot = page.locator("#time svg.plot[role=img]").nth(4)
    box = plot.bounding_box()
    plot.click(position={"x": box["width"] / 2, "y": 10})
    # Half of 4.5 h.
    assert page.locator("#said-moment").text_content().startswith("2:1")
    assert "from 2:1" in page.locator("#said-waves").text_content()


def test_without_script_nothing_is_missing(opened):
    page = opened(script=False)
    assert page.locator(".try:visible").count() == 0
    # What is tried is drawn where something can be tried.
    assert drawn(page) == {"hidden"}
    assert page.locator("svg.plot:visible").count() > 25
    assert page.locator("section table:visible").count() > 5
