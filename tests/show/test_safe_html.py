"""Safe HTML: what a browser would run or fetch is gone, by what a browser's own parser makes of it; the rest stays."""

from html.parser import HTMLParser

import pytest

from ventcalc.show.safe_html import safe

# Ways to run or fetch something; well-known ones of the OWASP sheet on filter evasion (from memory), in words of ours.
HOSTILE = (
    "<script>alert(1)</script>",
    "<script>alert(1)</script foo>",  # an end tag with a word in it ends a script all the same
    "<SCRIPT SRC=https://example.org/x.js></SCRIPT>",
    "<svg><script>alert(1)</script></svg>",
    "<svg><use href='https://example.org/x.svg#a'/></svg>",
    "<math><mtext><table><mglyph><style><img src=x onerror=alert(1)></style></mglyph></table></mtext></math>",
    "<img src=x onerror=alert(1)>",
    "<img src='https://example.org/x.png'>",
    "<p style='background: url(https://example.org/x.png)'>x</p>",
    "<p style='background: u\\72l(https://example.org/x.png)'>x</p>",
    "<a href='javascript:alert(1)'>x</a>",
    "<a href='data:text/html,<script>alert(1)</script>'>x</a>",
    "<style>@import 'https://example.org/x.css';</style>",
    "<link rel=stylesheet href='https://example.org/x.css'>",
    "<meta http-equiv=refresh content='0;url=https://example.org'>",
    "<base href='https://example.org/'>",
    "<iframe srcdoc='<script>alert(1)</script>'></iframe>",
    "<object data='https://example.org/x'></object><embed src='https://example.org/x'>",
    "<form action='https://example.org'><input autofocus onfocus=alert(1)></form>",
    "<details open ontoggle=alert(1)>x</details>",
    "<noscript><p title='</noscript><img src=x onerror=alert(1)>'></noscript>",
    "<!--[if IE]><script>alert(1)</script><![endif]-->",
)
RUN = {"script", "style", "iframe", "object", "embed", "link", "meta", "base", "form", "input", "use", "noscript"}


class Seen(HTMLParser):
    def __init__(self, html: str):
        super().__init__()
        self.tags, self.attributes = [], []
        self.feed(html)

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attributes]


@pytest.mark.parametrize("html", HOSTILE)
@pytest.mark.parametrize("around", ["{}", "<table><tr><td>{}</td></tr></table>", "<p>before {} after", "<svg>{}</svg>"])
def test_nothing_runs_and_nothing_is_fetched(html, around):
    seen = Seen(safe(around.format(html)))
    assert not RUN & set(seen.tags)
    for tag, name, value in seen.attributes:
        assert not name.startswith("on") and "example.org" not in value, (tag, name, value)
        assert not (name == "src" and not value.startswith("data:image/")), value
        assert not (name == "href" and value.split(":")[0] in ("javascript", "data")), value


def test_what_was_made_safe_stays_as_it_is():
    """A second pass changes nothing: no text turns into a tag by being written again."""
    for html in HOSTILE:
        once = safe(html)
        assert safe(once) == once


KEPT = (
    '<table class="checks"><tbody><tr><th scope="row">a</th><td style="color: red">1.5</td></tr></tbody></table>',
    '<svg viewBox="0 0 10 10" role="img"><path d="M0 0L10 10" stroke="black"></path><text x="1">flow</text></svg>',
    '<math display="block"><mfrac><mi>a</mi><mi>b</mi></mfrac></math>',
    '<img src="data:image/png;base64,AAAA" alt="figure" width="10">',
    "<b>bold</b> <sub>2</sub> and 3 &lt; 4",
)


@pytest.mark.parametrize("html", KEPT)
def test_tables_pictures_and_mathematics_stay(html):
    assert safe(html) == html


def test_a_link_to_the_web_stays():
    assert 'href="https://example.org/a"' in safe('<a href="https://example.org/a">a</a>')
