//! From the report's HTML to blocks that are laid out on pages.

use usvg::roxmltree::{Document, Node};

/// Text of one kind.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Run {
    pub text: String,
    pub bold: bool,
    /// Small and grey: pointers and remarks.
    pub small: bool,
    /// It begins a new line.
    pub below: bool,
}

/// One cell of a table.
#[derive(Clone, Debug, Default)]
pub struct Cell {
    pub runs: Vec<Run>,
    pub right: bool,
}

/// What follows one another on the pages.
#[derive(Debug)]
pub enum Block {
    /// A section, beginning a page or not.
    Section(String, bool),
    Heading(String),
    /// A paragraph, with the mark of a list where it is in one.
    Text(Vec<Run>, Option<String>),
    Table {
        head: Vec<Cell>,
        rows: Vec<Vec<Cell>>,
    },
    /// Boxes: what, and its lines.
    Tiles(Vec<Vec<Vec<Run>>>),
    /// A chart with what stands under it.
    Figure(String, Vec<Run>),
    /// A drawing on a page of its own.
    Sheet(String),
}

impl Block {
    /// Title of the section that begins here.
    pub fn section(&self) -> Option<&str> {
        if let Self::Section(title, _) = self { Some(title) } else { None }
    }

    /// Height of a chart in shares of its width.
    pub fn chart_height(&self) -> Option<f32> {
        let Self::Figure(svg, _) = self else { return None };
        let sizes = svg.split("viewBox=\"0 0 ").nth(1)?.split('"').next()?;
        let (wide, high) = sizes.split_once(' ')?;
        Some(high.parse::<f32>().ok()? / wide.parse::<f32>().ok()?)
    }
}

/// What stands between the header and the footer of the report.
pub fn body(html: &str) -> &str {
    let from = html.find("<main>").unwrap_or(0);
    let to = html.rfind("</main>").map_or(html.len(), |at| at + "</main>".len());
    html.get(from..to).unwrap_or_default()
}

/// The blocks of the report's body.
///
/// # Errors
/// It is not well-formed.
pub fn blocks(body: &str) -> Result<Vec<Block>, String> {
    let document = Document::parse(body).map_err(|error| error.to_string())?;
    let mut all = Vec::new();
    for section in document.root_element().children().filter(Node::is_element) {
        walk(section, body, &mut all);
    }
    Ok(all)
}

fn has_class(node: Node<'_, '_>, class: &str) -> bool {
    node.attribute("class").is_some_and(|all| all.split(' ').any(|one| one == class))
}

fn walk(node: Node<'_, '_>, source: &str, all: &mut Vec<Block>) {
    match node.tag_name().name() {
        "h2" => {
            let words: Vec<&str> = node.descendants().filter(Node::is_text).filter_map(|n| n.text()).collect();
            let title = words.join(" ");
            let breaks = node.parent().is_some_and(|section| has_class(section, "new-page"));
            all.push(Block::Section(title, breaks));
        }
        "h3" => all.push(Block::Heading(runs(node).into_iter().map(|r| r.text).collect())),
        "p" => all.push(Block::Text(styled(node, has_class(node, "note")), None)),
        "ul" | "ol" => {
            let numbered = node.tag_name().name() == "ol";
            for (i, item) in node.children().filter(|n| n.has_tag_name("li")).enumerate() {
                let mark = if numbered { format!("{}.", i + 1) } else { "•".to_owned() };
                all.push(Block::Text(runs(item), Some(mark)));
            }
        }
        "table" => all.push(table(node)),
        "dl" => {
            let lines = |tile: Node<'_, '_>| {
                tile.children()
                    .filter(Node::is_element)
                    .map(|n| {
                        let figure = n.has_tag_name("dd") && !has_class(n, "more");
                        let mut runs = styled(n, !figure);
                        runs.iter_mut().for_each(|r| r.bold = figure);
                        runs
                    })
                    .collect()
            };
            all.push(Block::Tiles(node.children().filter(Node::is_element).map(lines).collect()));
        }
        "figure" => {
            let drawn = node.children().find(|n| n.tag_name().name() == "svg");
            let svg = drawn.and_then(|n| source.get(n.range())).unwrap_or_default().to_owned();
            let caption = node.children().find(|n| n.has_tag_name("figcaption"));
            all.push(match caption {
                _ if has_class(node, "sheet") => Block::Sheet(svg),
                caption => Block::Figure(svg, caption.map(|n| styled(n, true)).unwrap_or_default()),
            });
        }
        _ => node.children().filter(Node::is_element).for_each(|n| walk(n, source, all)),
    }
}

fn table(node: Node<'_, '_>) -> Block {
    let cell = |n: Node<'_, '_>| {
        let mut runs = runs(n);
        let sum = |a: Node<'_, '_>| a.has_tag_name("tfoot") || (a.has_tag_name("tr") && has_class(a, "sum"));
        if n.has_tag_name("th") || has_class(n, "open") || n.ancestors().any(sum) {
            runs.iter_mut().filter(|r| !r.small).for_each(|r| r.bold = true);
        }
        Cell { runs, right: has_class(n, "n") }
    };
    let row = |n: Node<'_, '_>| n.children().filter(Node::is_element).map(cell).collect::<Vec<_>>();
    let rows = |part: &str| {
        let of = node.children().filter(|n| n.has_tag_name(part));
        of.flat_map(|n| n.children().filter(|n| n.has_tag_name("tr")).map(row).collect::<Vec<_>>()).collect::<Vec<_>>()
    };
    let head = rows("thead").into_iter().next().unwrap_or_default();
    let mut body = rows("tbody");
    body.extend(rows("tfoot"));
    Block::Table { head, rows: body }
}

fn runs(node: Node<'_, '_>) -> Vec<Run> {
    styled(node, false)
}

/// The texts in an element; pointers, and what a hand-off hands to, are small, each on a line of its own.
fn styled(node: Node<'_, '_>, small: bool) -> Vec<Run> {
    let mut all = Vec::new();
    collect(node, &Run { small, ..Run::default() }, &mut all);
    all
}

fn collect(node: Node<'_, '_>, style: &Run, all: &mut Vec<Run>) {
    for child in node.children() {
        if let Some(text) = child.text().filter(|_| child.is_text()) {
            all.push(Run { text: text.to_owned(), ..style.clone() });
        } else if has_class(child, "pointer") || has_class(child, "hand-off") {
            let before = all.len();
            collect(child, &Run { small: true, ..style.clone() }, all);
            if before > 0
                && let Some(first) = all.get_mut(before)
            {
                first.below = true;
            }
        } else if child.is_element() {
            collect(child, style, all);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_of_block_is_read() {
        let body = "<main><section class=\"new-page\"><h2><span class=\"count\">3</span>Basis</h2><p class=\"note\">a &amp; <data>4</data> m</p>\
            <ol><li>one</li><li>two</li></ol><div class=\"wide\"><table><thead><tr><th class=\"n\">H</th></tr></thead><tbody>\
            <tr><td>x<span class=\"pointer\">/x</span></td></tr></tbody><tfoot><tr><td>sum</td></tr></tfoot></table></div>\
            <figure><svg viewBox=\"0 0 180 90\"></svg><figcaption>c</figcaption></figure></section></main>";
        let all = blocks(body).unwrap();
        assert!(all[0].section() == Some("3 Basis") && matches!(all[0], Block::Section(_, true)));
        let Block::Text(runs, None) = &all[1] else { panic!("{all:?}") };
        assert_eq!(runs.iter().map(|r| r.text.as_str()).collect::<String>(), "a & 4 m");
        assert!(matches!(&all[3], Block::Text(_, Some(mark)) if mark == "2."));
        let Block::Table { head, rows } = &all[4] else { panic!("{all:?}") };
        assert!(head[0].right && head[0].runs[0].bold && rows.len() == 2 && rows[1][0].runs[0].bold);
        assert!(rows[0][0].runs[1].small && rows[0][0].runs[1].below);
        assert_eq!(all[5].chart_height(), Some(0.5));
        assert!(blocks("<main><p></main>").is_err());
    }
}
