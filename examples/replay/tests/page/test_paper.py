"""The page on A4."""

import io

import pypdf
import pytest


@pytest.fixture(scope="module")
def pages(browser, report):
    page = browser.new_page()
    page.goto(report.as_uri())
    pdf = pypdf.PdfReader(io.BytesIO(page.pdf(format="A4", prefer_css_page_size=True)))
    headings = page.evaluate("[...document.querySelectorAll('h2')].map((n) => n.textContent.trim())")
    texts = [[line.strip() for line in sheet.extract_text().splitlines() if line.strip()] for sheet in pdf.pages]
    page.close()
    return texts, headings


def test_the_top_is_one_page(pages):
    texts, _ = pages
    first = " ".join(texts[0])
    assert "Second check" in first and "Not known" in first and "blood gas" in first
    assert "Advisory only" in first and "Advisory only" in " ".join(texts[-1])


def test_no_heading_stands_alone_at_the_foot(pages):
    texts, headings = pages
    for number, lines in enumerate(texts, 1):
        assert lines[-1] not in headings, (number, lines[-1])
