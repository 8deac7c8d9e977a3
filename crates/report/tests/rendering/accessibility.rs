//! The page for those who cannot see it or use a keyboard alone.

use crate::fixture;
use outcomes::report::Audience;
use std::collections::BTreeSet;

/// Every SVG element of a page.
pub(crate) fn svgs(page: &str) -> Vec<&str> {
    page.split("<svg ")
        .skip(1)
        .map(|rest| {
            let end = rest.find("</svg>").unwrap() + "</svg>".len();
            let start = rest.as_ptr() as usize - page.as_ptr() as usize - "<svg ".len();
            &page[start..start + "<svg ".len() + end]
        })
        .collect()
}

fn page() -> String {
    report::html(&fixture::report(Audience::Clinic)).unwrap()
}

/// Values of an attribute wherever it stands.
fn attributes<'a>(page: &'a str, name: &str) -> Vec<&'a str> {
    page.split(&format!(" {name}=\""))
        .skip(1)
        .map(|rest| &rest[..rest.find('"').unwrap()])
        .collect()
}

#[test]
fn every_chart_is_well_formed_and_has_a_title_and_words() {
    let page = page();
    let charts = svgs(&page);
    assert!(charts.len() >= 6);
    for chart in charts {
        let document = roxmltree::Document::parse(chart).unwrap();
        let root = document.root_element();
        assert_eq!(root.attribute("role"), Some("img"));
        for (part, suffix) in [("title", "-title"), ("desc", "-words")] {
            let element = root
                .children()
                .find(|node| node.has_tag_name(part))
                .unwrap();
            assert!(element.text().is_some_and(|text| text.len() > 5));
            assert!(
                element
                    .attribute("id")
                    .is_some_and(|id| id.ends_with(suffix))
            );
        }
    }
}

#[test]
fn every_figure_has_a_table_a_click_away() {
    let page = page();
    for figure in page.split("<figure ").skip(1) {
        let figure = &figure[..figure.find("</figure>").unwrap()];
        let details = &figure[figure.find("<details>").unwrap()..];
        assert!(details.contains("<table ") && details.contains("scope=\"col\""));
    }
}

#[test]
fn ids_are_unique_and_every_link_has_its_target() {
    let page = page();
    let ids = attributes(&page, "id");
    let known: BTreeSet<&str> = ids.iter().copied().collect();
    assert_eq!(ids.len(), known.len());
    for link in attributes(&page, "href") {
        assert!(known.contains(link.strip_prefix('#').unwrap()), "{link}");
    }
    let labels = attributes(&page, "aria-labelledby");
    for label in labels.iter().flat_map(|labels| labels.split(' ')) {
        assert!(known.contains(label), "{label}");
    }
}

#[test]
fn headings_descend_without_gaps() {
    let page = page();
    let levels: Vec<u32> = page
        .split("<h")
        .skip(1)
        .filter_map(|rest| rest.chars().next().and_then(|level| level.to_digit(10)))
        .collect();
    assert_eq!(levels.iter().filter(|level| **level == 1).count(), 1);
    assert!(levels.windows(2).all(|pair| pair[1] <= pair[0] + 1));
}

#[test]
fn the_page_says_its_language_and_starts_with_a_skip_link() {
    let page = page();
    assert!(page.contains("<html lang=\"en-GB\">"));
    assert!(
        page[page.find("<body>").unwrap()..].starts_with("<body><a class=\"skip\" href=\"#main\">")
    );
}

/// Relative luminance and contrast as in WCAG 2.2, "relative luminance" and "contrast ratio".
fn luminance(colour: &str) -> f64 {
    let part = |place: usize| {
        let value = f64::from(u8::from_str_radix(&colour[place..place + 2], 16).unwrap()) / 255.0;
        if value <= 0.04045 {
            value / 12.92
        } else {
            ((value + 0.055) / 1.055).powf(2.4)
        }
    };
    0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
}

fn contrast(one: &str, other: &str) -> f64 {
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

#[test]
fn words_keep_a_contrast_of_four_and_a_half_in_both_themes() {
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    let page = page();
    let light = &page[page.find(":root {").unwrap()..];
    let dark = &page[page.find("(prefers-color-scheme: dark)").unwrap()..];
    for theme in [light, dark] {
        let theme = &theme[..theme.find('}').unwrap()];
        let colour = |name: &str| {
            let start = theme.find(&format!("--{name}: ")).unwrap() + name.len() + 4;
            &theme[start..start + 7]
        };
        for words in [
            "ink", "quiet", "accent", "warn", "series-0", "series-1", "series-2", "series-3",
        ] {
            let ratio = contrast(colour(words), colour("paper"));
            assert!(ratio >= 4.5, "{words} has {ratio:.2}");
        }
        for layer in 0..8 {
            let ratio = contrast(
                colour(&format!("on-layer-{layer}")),
                colour(&format!("layer-{layer}")),
            );
            assert!(ratio >= 4.5, "layer {layer} has {ratio:.2}");
        }
    }
}
