//! A chart of the web page made to stand alone on paper: its own style, light colours, no custom properties.

use crate::chart::FINENESS;
use std::collections::BTreeMap;

const STYLE: &str = include_str!("../page/style.css");

/// What a mark on paper is made of; everything else in the style sheet is about the page around it.
const INKS: [&str; 8] = [
    "fill",
    "fill-opacity",
    "stroke",
    "stroke-opacity",
    "stroke-width",
    "stroke-dasharray",
    "stroke-linecap",
    "opacity",
];

/// The drawing with its style inside it.
pub(super) fn on_paper(svg: &str) -> String {
    let Some((head, body)) = svg.split_once('>') else {
        return svg.to_owned();
    };
    let head = head.replacen("<svg", "<svg xmlns=\"http://www.w3.org/2000/svg\"", 1);
    format!(
        "{head}>\n<style>text{{font-family:\"Source Sans 3\"}}\n{}</style>{body}",
        inks(STYLE)
    )
}

/// The rules of a style sheet that colour a drawing, widths in drawing units, colours spelt out.
fn inks(sheet: &str) -> String {
    let rules = rules(sheet);
    let colours: BTreeMap<&str, &str> = rules
        .iter()
        .find(|(selectors, _)| *selectors == ":root")
        .map(|(_, body)| declarations(body).collect())
        .unwrap_or_default();
    let mut out = String::new();
    for (selectors, body) in &rules {
        let kept: Vec<String> = declarations(body)
            .filter(|(name, _)| INKS.contains(name))
            .map(|(name, value)| format!("{name}:{}", on_its_own(name, value, &colours)))
            .collect();
        if !kept.is_empty() {
            out.push_str(&format!("{selectors}{{{}}}\n", kept.join(";")));
        }
    }
    out
}

/// Selectors and body of every rule that holds everywhere; rules for screens, print or widths are left out.
fn rules(sheet: &str) -> Vec<(&str, &str)> {
    let mut found = Vec::new();
    let mut rest = sheet;
    while let Some((selectors, after)) = rest.split_once('{') {
        let length = body_length(after);
        let (body, next) = after.split_at(length);
        let selectors = selectors.trim_start_matches('}').trim();
        if !selectors.starts_with('@') {
            found.push((selectors, body));
        }
        rest = next;
    }
    found
}

/// Bytes up to the brace that closes a body.
fn body_length(after: &str) -> usize {
    let mut depth = 1_u32;
    for (at, letter) in after.char_indices() {
        match letter {
            '{' => depth += 1,
            '}' => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            return at;
        }
    }
    after.len()
}

fn declarations(body: &str) -> impl Iterator<Item = (&str, &str)> {
    body.split(';')
        .filter_map(|declaration| declaration.split_once(':'))
        .map(|(name, value)| (name.trim(), value.trim()))
}

/// A value that needs nothing outside the drawing.
fn on_its_own(name: &str, value: &str, colours: &BTreeMap<&str, &str>) -> String {
    if matches!(name, "stroke-width" | "stroke-dasharray") {
        return in_drawing_units(value);
    }
    let custom = value
        .strip_prefix("var(")
        .and_then(|rest| rest.strip_suffix(')'));
    match custom {
        Some("--paper") => "#ffffff".to_owned(),
        Some(name) => colours.get(name).map_or("none", |colour| colour).to_owned(),
        None => value.to_owned(),
    }
}

/// Widths that the page draws at any scale, in the fine units of a drawing.
fn in_drawing_units(value: &str) -> String {
    let scaled: Vec<String> = value
        .split_whitespace()
        .map(|word| match word.trim_end_matches("px").parse::<f64>() {
            Ok(width) => format!("{:.1}", width * FINENESS),
            Err(_) => word.to_owned(),
        })
        .collect();
    scaled.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_are_spelt_out_widths_scaled_and_screens_left_out() {
        let sheet = ":root { --ink: #111; --paper: #eee; }\n@media screen { :root { --ink: #fff; } .a { fill: red; } }\n\
                     svg text { fill: var(--ink); font-size: 2px; }\n.b, path.c { stroke: var(--paper); stroke-width: 1.5; stroke-dasharray: 7 3; }";
        assert_eq!(
            inks(sheet),
            "svg text{fill:#111}\n.b, path.c{stroke:#ffffff;stroke-width:15.0;stroke-dasharray:70.0 30.0}\n"
        );
    }

    #[test]
    fn every_ink_of_the_page_has_its_colour_on_paper() {
        let inks = inks(STYLE);
        assert!(!inks.contains("var("), "{inks}");
        for class in [
            ".axis",
            "path.series-0",
            ".band-0",
            ".layer-5",
            "svg .on-layer-3",
        ] {
            assert!(inks.contains(class), "{class} is lost");
        }
    }
}
