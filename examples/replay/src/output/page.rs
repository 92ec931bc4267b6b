//! The report as one self-contained file: Markdown or HTML, with the chart in it.

use crate::doc::Doc;
use anyhow::{Result, bail};
use base64::{Engine, prelude::BASE64_STANDARD};
use pulldown_cmark::{Options, Parser, html};
use std::path::Path;

/// What kind of file is asked for.
#[derive(Clone, Copy)]
pub(crate) enum Page {
    Markdown,
    Html,
}

const CHART: &str = "Flow, pressure and breaths of the recording, as trends and at its end";

const STYLE: &str = "body{max-width:72rem;margin:2rem auto;padding:0 1rem;line-height:1.5;\
font-family:system-ui,sans-serif;color:#1c1c1c}table{border-collapse:collapse;margin:1rem 0;\
font-size:.9rem}th,td{border:1px solid #bbb;padding:.25rem .6rem;vertical-align:top}\
th{background:#f0f0f0}h2{margin-top:2rem}figure{margin:1rem 0}svg{max-width:100%;height:auto}";

impl Page {
    /// By the end of the file's name.
    pub(crate) fn of(path: &Path) -> Result<Self> {
        let end = path.extension().map(|end| end.to_string_lossy().to_ascii_lowercase());
        match end.as_deref() {
            Some("md") => Ok(Self::Markdown),
            Some("html" | "htm") => Ok(Self::Html),
            _ => bail!("--report needs a name that ends in .md or .html: {}", path.display()),
        }
    }

    /// The whole file.
    pub(crate) fn render(self, doc: &Doc, chart: &str) -> String {
        match self {
            Self::Markdown => {
                let data = BASE64_STANDARD.encode(chart);
                format!(
                    "{}\n## Chart\n\n![{CHART}](data:image/svg+xml;base64,{data})\n",
                    doc.text()
                )
            }
            Self::Html => {
                let mut body = String::new();
                html::push_html(&mut body, Parser::new_ext(doc.text(), Options::ENABLE_TABLES));
                format!(
                    "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta \
                     name=\"viewport\" content=\"width=device-width\">\n<title>tidevane \
                     report</title>\n<style>{STYLE}</style>\n</head>\n<body>\n{body}\n<h2>Chart</h2>\n\
                     <figure role=\"img\" aria-label=\"{CHART}\">\n{chart}\n</figure>\n</body>\n\
                     </html>\n"
                )
            }
        }
    }
}
