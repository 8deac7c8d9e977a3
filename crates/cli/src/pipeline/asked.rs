//! Keys of `[report]` that name one or several of a closed set: audiences, strata, formats, ways of writing, measures.

use super::Fault;
use intake::config::{ConfigError, nearest};
use outcomes::measure::{MEASURES, Measure, SplitBy, Stratifier, find_measure};
use outcomes::report::Audience;
use report::DataFormat;
use toml::Spanned;

/// Whom copies are wanted for.
pub(super) fn audiences(
    list: &Spanned<Vec<Spanned<String>>>,
    fault: &Fault<'_>,
) -> Result<Vec<Audience>, ConfigError> {
    let mut wanted = Vec::new();
    for word in list.get_ref() {
        let name = word.get_ref();
        let audience = Audience::from_code(name).ok_or_else(|| {
            fault(
                word.span(),
                format!("`report.audiences`: `{name}` is no audience"),
            )
            .with_hint("audiences are `clinic`, `auditor` and `public`")
        })?;
        if wanted.contains(&audience) {
            return Err(fault(
                word.span(),
                format!("`report.audiences` names `{name}` twice"),
            ));
        }
        wanted.push(audience);
    }
    if wanted.is_empty() {
        let error = fault(
            list.span(),
            "`report.audiences` names no audience".to_owned(),
        );
        return Err(error.with_hint("leave the key out for a clinic copy alone"));
    }
    wanted.sort_unstable();
    Ok(wanted)
}

/// What measures are split by. Groupings of the layout are looked for once the layout is read.
pub(super) fn strata(
    list: &[Spanned<String>],
    fault: &Fault<'_>,
) -> Result<Vec<SplitBy>, ConfigError> {
    let mut wanted = Vec::new();
    for word in list {
        let name = word.get_ref();
        let by = SplitBy::parse(name).ok_or_else(|| {
            let error = fault(
                word.span(),
                format!("`report.strata`: `{name}` is nothing measures can be split by"),
            );
            match nearest(name, Stratifier::ALL.iter().map(|field| field.code())) {
                Some(near) => error.with_hint(format!("did you mean `{near}`?")),
                None => error.with_hint(
                    "`limbledger list strata` shows what there is; a grouping of the layout is written `strata.NAME`",
                ),
            }
        })?;
        if wanted.contains(&by) {
            let message = format!("`report.strata` names `{name}` twice");
            return Err(fault(word.span(), message));
        }
        wanted.push(by);
    }
    Ok(wanted)
}

/// Formats in which data files are wanted.
pub(super) fn data_formats(
    list: &[Spanned<String>],
    fault: &Fault<'_>,
) -> Result<Vec<DataFormat>, ConfigError> {
    let mut wanted = Vec::new();
    for word in list {
        let name = word.get_ref();
        let format = DataFormat::from_code(name).ok_or_else(|| {
            let message = format!("`report.tables`: `{name}` is no format of data files");
            fault(word.span(), message).with_hint("formats are `csv`, `parquet` and `arrow`")
        })?;
        if !wanted.contains(&format) {
            wanted.push(format);
        }
    }
    wanted.sort_unstable();
    Ok(wanted)
}

/// A key of `[report]` that takes one of a few words.
pub(super) fn worded<T>(
    written: &Option<Spanned<String>>,
    key: &str,
    read: impl Fn(&str) -> Option<T>,
    fault: &Fault<'_>,
) -> Result<Option<T>, ConfigError> {
    let Some(written) = written else {
        return Ok(None);
    };
    read(written.get_ref()).map(Some).ok_or_else(|| {
        let known = match key {
            "decimal_mark" => "`point` or `comma`",
            _ => "`day-month-year`, `month-day-year` or `year-month-day`",
        };
        fault(
            written.span(),
            format!("`report.{key}`: `{}` is not known", written.get_ref()),
        )
        .with_hint(format!("write {known}"))
    })
}

/// The measures named, in catalogue order.
pub(super) fn measures(
    list: &Spanned<Vec<Spanned<String>>>,
    fault: &Fault<'_>,
) -> Result<Vec<&'static Measure>, ConfigError> {
    let ids = list.get_ref();
    if ids.is_empty() {
        let error = fault(list.span(), "`report.measures` names no measure".to_owned());
        return Err(error.with_hint("leave the key out to report all of them"));
    }
    for id in ids {
        if find_measure(id.get_ref()).is_none() {
            let error = fault(id.span(), format!("unknown measure `{}`", id.get_ref()));
            let near = nearest(id.get_ref(), MEASURES.iter().map(|measure| measure.id));
            return Err(match near {
                Some(near) => error.with_hint(format!("did you mean `{near}`?")),
                None => error.with_hint("`limbledger list measures` shows what there is"),
            });
        }
    }
    Ok(MEASURES
        .iter()
        .copied()
        .filter(|measure| ids.iter().any(|id| id.get_ref() == measure.id))
        .collect())
}
