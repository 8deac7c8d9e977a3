//! What codes usually mean, field by field. Common practice, no source. German ones are in `german.rs`.

use super::german;
use super::shape::words;

/// How sure the meaning of a code is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Meaning {
    /// It is our own spelling.
    Ours,
    /// It is our own word, this one, otherwise parted or with capitals.
    Respelt(String),
    /// It is written so everywhere.
    Sure(&'static str),
    /// It is often written so, and may mean something else here.
    Likely(&'static str),
    /// Nothing is known of it.
    Unknown,
}

impl Meaning {
    /// Our word, where it is sure; `None` also for our own spelling, which needs no other.
    pub(super) fn sure(&self) -> Option<&str> {
        match self {
            Self::Respelt(ours) => Some(ours),
            Self::Sure(ours) => Some(ours),
            Self::Ours | Self::Likely(_) | Self::Unknown => None,
        }
    }

    /// Whether nobody has to say what it means.
    pub(super) fn is_settled(&self) -> bool {
        *self == Self::Ours || self.sure().is_some()
    }
}

/// What a code of a field means. `is_known` tells our own spellings.
pub(super) fn meaning(
    field: &str,
    is_flag: bool,
    is_known: &dyn Fn(&str) -> bool,
    code: &str,
) -> Meaning {
    if is_known(code) {
        return Meaning::Ours;
    }
    let usual = usual(field, is_flag, &code.to_lowercase());
    if usual.sure().is_some() {
        return usual;
    }
    let respelt = words(code).join("-");
    if is_known(&respelt) {
        return Meaning::Respelt(respelt);
    }
    usual
}

/// What a code in small letters usually means.
fn usual(field: &str, is_flag: bool, code: &str) -> Meaning {
    if is_flag {
        let known = german::YES_NO.iter().find(|(theirs, _)| *theirs == code);
        return match (code, known) {
            ("y" | "yes" | "true", _) => Meaning::Sure("yes"),
            ("n" | "no" | "false", _) => Meaning::Sure("no"),
            ("1", _) => Meaning::Likely("yes"),
            ("0", _) => Meaning::Likely("no"),
            (_, Some((_, ours))) => Meaning::Sure(ours),
            _ => Meaning::Unknown,
        };
    }
    let field = match field {
        "prior_amputation_left" | "prior_amputation_right" | "prior_amputation_{side}" => {
            "prior_amputation"
        }
        "prior_amputation_side" => "side",
        other => other,
    };
    // German codes are kept without umlauts
    let folded = words(code).join(" ");
    let has = |listed: &str, code: &str| listed.split('|').any(|word| word == code);
    let found = |table: &[(&str, &'static str, &str, &str)], code: &str| {
        let of_field = table.iter().filter(|(known, ..)| *known == field);
        of_field
            .filter(|(_, _, sure, likely)| has(sure, code) || has(likely, code))
            .map(|(_, ours, sure, _)| match has(sure, code) {
                true => Meaning::Sure(ours),
                false => Meaning::Likely(ours),
            })
            .next()
    };
    found(CODES, code)
        .or_else(|| found(german::CODES, &folded))
        .unwrap_or(Meaning::Unknown)
}

/// Field, our word, codes that mean it for sure, codes that probably do.
#[rustfmt::skip]
const CODES: &[(&str, &str, &str, &str)] = &[
    ("birth_year", "90-or-over", "90+|90 +|>=90|90 or over|90 and over|90 or older|over 89", ""),
    ("sex", "female", "f|fem", "w|2"),
    ("sex", "male", "m", "1"),
    ("sex", "other", "oth|non-binary", "x|o|u"),
    ("diabetes_type", "type-1", "t1|type 1|type1|t1dm|dm1", "1|i"),
    ("diabetes_type", "type-2", "t2|type 2|type2|t2dm|dm2", "2|ii"),
    ("diabetes_type", "other", "oth|secondary|mody|3c|type 3c", "o|3"),
    ("prior_amputation", "none", "no|nil", "n|0"),
    ("prior_amputation", "minor", "min", "1|y"),
    ("prior_amputation", "major", "maj", "2"),
    ("attendance", "kept", "att|attended|seen|arrived|completed", "a|y|yes|1"),
    ("attendance", "missed", "dna|did not attend|no show|no-show|noshow|fta", "n|m|0"),
    ("attendance", "cancelled", "cnx|canc|canceled|can", "c|x"),
    ("attendance", "administrative", "admin", "adm|letter"),
    ("setting", "clinic", "outpatient|opd", "cl|c"),
    ("setting", "home", "home visit|domiciliary|dom", "hv|h"),
    ("setting", "remote", "telephone|phone|video|tel", "t|v"),
    ("setting", "ward", "inpatient|ip", "w"),
    ("sensation", "intact", "normal|present", "1|y|yes|felt"),
    ("sensation", "lost", "absent|reduced|impaired|abnormal", "0|n|no|not felt"),
    ("pulses", "palpable", "present|felt", "y|yes|1|p"),
    ("pulses", "absent", "none|not palpable|impalpable|not felt", "n|no|0|a"),
    ("waveform", "triphasic", "tri|tp", "t|3"),
    ("waveform", "biphasic", "bi|bp", "b|2"),
    ("waveform", "monophasic", "mono|mp", "m|1"),
    ("waveform", "absent", "none|nil|no signal", "a|0"),
    ("side", "left", "l|lt|lft", "1|li"),
    ("side", "right", "r|rt|rgt", "2|re"),
    ("aspect", "plantar", "sole", "p"),
    ("aspect", "dorsal", "dorsum", "d"),
    ("aspect", "medial", "med", "m"),
    ("aspect", "lateral", "lat", "l"),
    ("aspect", "tip", "apex|apical", "t"),
    ("onset_precision", "day", "exact", "d"),
    ("onset_precision", "week", "", "w"),
    ("onset_precision", "month", "", "m"),
    ("onset_precision", "year", "", "y"),
    ("origin", "new", "", "n"),
    ("origin", "transferred-in", "transferred|transfer|transfer in", "t"),
    ("origin", "post-surgical", "surgical|post surgical|postop|post-op", "s"),
    ("tissue_depth", "skin", "dermis|superficial|epidermis", "sk|s|0"),
    ("tissue_depth", "subcutaneous", "fat|subcut", "sc|1"),
    ("tissue_depth", "tendon-or-muscle", "tendon|muscle|fascia|capsule", "tm|t|2"),
    ("tissue_depth", "bone-or-joint", "bone|joint", "bj|b|3"),
    ("gangrene", "none", "no|absent", "n|0"),
    ("gangrene", "digits", "toe|toes|digit", "1|d"),
    ("gangrene", "extensive", "forefoot|foot", "2|e"),
    ("infection", "none", "no|uninfected|nil", "n|0"),
    ("infection", "mild", "", "1"),
    ("infection", "moderate", "mod", "2"),
    ("infection", "severe", "sev", "3"),
    ("state", "pre-ulcerative", "preulcerative|pre ulcerative|pre-ulcer|callus", "p"),
    ("state", "open", "active|unhealed|not healed", "o|recurrence|relapse"),
    ("state", "closed", "healed|resolved", "c|h|remission"),
    ("state", "excised", "amputated", "x|a"),
    ("seen_by", "clinician", "podiatrist|nurse|doctor", "cln|c"),
    ("seen_by", "home-nurse", "district nurse|home nurse|community nurse", "hn|dn"),
    ("seen_by", "patient", "self", "pt|p"),
    ("seen_by", "photograph", "photo|picture", "ph"),
    ("dressing_carer", "patient", "self", "pt|p"),
    ("dressing_carer", "family", "relative|carer", "fam|f"),
    ("dressing_carer", "home-nurse", "district nurse|home nurse|community nurse", "hn|dn"),
    ("dressing_carer", "clinic", "", "cl|c"),
    ("kind", "bedside-vascular-screen", "vascular screen", "scr|screen"),
    ("kind", "physiologic-study", "physiologic study", "phy"),
    ("kind", "vascular-imaging", "duplex|angiogram|angiography|imaging", "img"),
    ("kind", "vascular-referral", "vascular referral|referred to vascular", "vref"),
    ("kind", "vascular-seen", "seen by vascular", "vseen"),
    ("kind", "revascularisation", "revascularization|angioplasty|bypass|revasc", "pta"),
    ("kind", "minor-amputation", "minor amputation", "amin|minor"),
    ("kind", "major-amputation", "major amputation", "amaj|major"),
    ("kind", "admission", "admitted|hospital admission", "admit|adm"),
    ("kind", "footwear-supplied", "footwear supplied|shoes supplied", "shoe|shoes"),
    ("kind", "offloading-supplied", "offloading supplied", "offl"),
    ("kind", "transfer-out", "transfer out|transferred out", "trout"),
    ("kind", "death", "died|deceased", "rip|dead"),
    ("level", "minor", "min", ""),
    ("level", "major", "maj", ""),
    ("height", "toe", "digit", ""),
    ("height", "ray", "", ""),
    ("height", "transmetatarsal", "tma", ""),
    ("height", "midfoot", "chopart|lisfranc", ""),
    ("height", "ankle", "syme", ""),
    ("height", "below-knee", "bka|below knee|transtibial", ""),
    ("height", "knee", "through knee|tka", ""),
    ("height", "above-knee", "aka|above knee|transfemoral", ""),
    ("height", "hip", "hip disarticulation", ""),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fields::{EVENT_FIELDS, EXAM_FIELDS, PATIENT_FIELDS, ULCER_FIELDS, VISIT_FIELDS};
    use crate::layout::fields;

    #[test]
    fn every_meaning_is_a_value_of_its_field() {
        let known: Vec<_> = fields();
        for (field, ours, ..) in CODES.iter().chain(german::CODES) {
            if *field == "attendance" {
                continue;
            }
            let takes: Vec<&str> = known
                .iter()
                .filter(|words| words.field == *field)
                .map(|words| words.takes.as_str())
                .collect();
            assert!(
                takes
                    .iter()
                    .any(|takes| takes.contains(&format!("`{ours}`"))),
                "{field} {ours}"
            );
        }
        let n_fields = PATIENT_FIELDS.len()
            + VISIT_FIELDS.len()
            + EXAM_FIELDS.len()
            + ULCER_FIELDS.len()
            + EVENT_FIELDS.len();
        assert_eq!(known.len(), n_fields);
    }

    #[test]
    fn a_single_letter_is_sure_only_where_it_is_written_so_everywhere() {
        let never = &|_: &str| false;
        assert_eq!(meaning("side", false, never, "L"), Meaning::Sure("left"));
        assert_eq!(meaning("state", false, never, "O"), Meaning::Likely("open"));
        assert_eq!(meaning("state", false, never, "Z"), Meaning::Unknown);
        assert_eq!(meaning("smoker", true, never, "Y"), Meaning::Sure("yes"));
        assert_eq!(meaning("smoker", true, never, "1"), Meaning::Likely("yes"));
    }

    #[test]
    fn our_own_words_are_known_however_they_are_parted_and_german_ones_with_umlauts() {
        let places = &|code: &str| ["mth-1-plantar", "kept"].contains(&code);
        for code in ["Mth 1 Plantar", "mth_1_plantar", "MTH-1-plantar"] {
            assert_eq!(
                meaning("site", false, places, code),
                Meaning::Respelt("mth-1-plantar".to_owned())
            );
        }
        let never = &|_: &str| false;
        assert_eq!(
            meaning("infection", false, never, "mäßig"),
            Meaning::Sure("moderate")
        );
        assert_eq!(meaning("smoker", true, never, "Nein"), Meaning::Sure("no"));
    }
}
