//! Drawings, charts and logos as pictures of a page. Nothing is loaded: neither files nor addresses.

use std::collections::BTreeMap;

use base64::Engine;
use krilla::image::Image;
use usvg::Tree;

use super::font::Fonts;
use crate::codes::Code;
use crate::finding::Finding;

/// A picture of a page.
pub enum Picture {
    Drawn(Box<Tree>),
    Dots(Image),
}

impl Picture {
    /// Width over height.
    pub fn shape(&self) -> f32 {
        match self {
            Self::Drawn(tree) => tree.size().width() / tree.size().height(),
            Self::Dots(image) => image.size().0.max(1) as f32 / image.size().1.max(1) as f32,
        }
    }
}

fn options(fonts: &Fonts) -> usvg::Options<'static> {
    usvg::Options {
        fontdb: fonts.known.clone(),
        // In millimetres of the page, whatever the dots of a screen.
        dpi: 96.0,
        image_href_resolver: usvg::ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..usvg::Options::default()
    }
}

/// A drawing of the project's own, in its colours for print.
pub fn drawing(svg: &str, fonts: &Fonts) -> Result<Tree, String> {
    Tree::from_str(&for_print(svg), &options(fonts)).map_err(|error| error.to_string())
}

/// Most dots of a logo.
const MOST_DOTS: u64 = 16_000_000;

/// The logo of a `data:` address.
///
/// # Errors
/// It is no sound picture.
pub fn logo(address: &str, fonts: &Fonts) -> Result<Picture, Finding> {
    let unsound = |says: String| {
        Finding::new(Code::BadText, "/logo", format!("the logo is no sound picture: {says}"))
            .advise("Give a PNG, JPEG or SVG picture of at most 16 million dots.")
    };
    let (kind, digits) = address.split_once(";base64,").unwrap_or_default();
    let bytes = base64::engine::general_purpose::STANDARD.decode(digits).map_err(|error| unsound(error.to_string()))?;
    let image = match kind {
        "data:image/png" => Image::from_png(bytes.into(), true),
        "data:image/jpeg" => Image::from_jpeg(bytes.into(), true),
        _ => {
            let tree = Tree::from_data(&bytes, &options(fonts)).map_err(|error| unsound(error.to_string()))?;
            return Ok(Picture::Drawn(Box::new(tree)));
        }
    };
    let image = image.map_err(unsound)?;
    let (wide, high) = image.size();
    if u64::from(wide) * u64::from(high) > MOST_DOTS {
        return Err(unsound(format!("it has {wide} by {high} dots")));
    }
    Ok(Picture::Dots(image))
}

/// The SVG with its colours for print written out: variables and media rules are not known to every reader of SVG.
fn for_print(svg: &str) -> String {
    let (Some(from), Some(to)) = (svg.find("<style>"), svg.find("</style>")) else { return svg.to_owned() };
    let style = svg.get(from + "<style>".len()..to).unwrap_or_default();
    let (before, after) = (svg.get(..from).unwrap_or_default(), svg.get(to..).unwrap_or_default());
    format!("{before}<style>{}{after}", plain_style(style))
}

/// Rules outside of media rules, with the variables of print in place of their names.
fn plain_style(style: &str) -> String {
    let mut values: BTreeMap<&str, &str> = BTreeMap::new();
    let mut rules = String::new();
    for line in style.lines() {
        let dark = line.starts_with("@media (prefers-color-scheme");
        if !dark {
            let declared = line.split(['{', ';', '}']).filter(|d| d.starts_with("--"));
            values.extend(declared.filter_map(|d| d.split_once(':')));
        }
        if !line.starts_with("@media") {
            rules += line;
            rules.push('\n');
        }
    }
    for (name, value) in values {
        rules = rules.replace(&format!("var({name})"), value);
    }
    rules
}

#[cfg(test)]
mod tests {
    #[test]
    fn styles_are_those_of_print() {
        for style in [crate::draw::STYLE, include_str!("../report/chart.css")] {
            let plain = super::plain_style(style);
            assert!(!plain.contains("var(") && !plain.contains("@media"), "{plain}");
            let ink = plain.lines().find(|l| l.starts_with(".lw-plain{") || l.starts_with(".lw-chart-text{"));
            assert!(ink.is_some_and(|l| l.contains("fill:#000")), "{ink:?}");
        }
    }

    #[test]
    fn broken_logos_are_refused() {
        let fonts = super::Fonts::new().unwrap();
        for address in ["data:image/png;base64,AAAA", "data:image/svg+xml;base64,AAAA", "data:image/jpeg;base64,A"] {
            assert!(super::logo(address, &fonts).is_err(), "{address}");
        }
    }
}
