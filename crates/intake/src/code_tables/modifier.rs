//! What stands behind a CPT number in its cell: modifiers of two characters, or a decimal that a spreadsheet added.

use outcomes::tables::Side;

/// The number alone, and the modifiers behind it; `None` where something else stands there. `code` is in capital letters.
pub(super) fn parted(code: &str) -> Option<(&str, impl Iterator<Item = &str>)> {
    let (number, rest) = code.split_at_checked(5)?;
    let is_number = number.bytes().all(|byte| byte.is_ascii_alphanumeric())
        && number.bytes().skip(1).all(|byte| byte.is_ascii_digit());
    let is_decimal = rest
        .strip_prefix('.')
        .is_some_and(|zeros| zeros.bytes().all(|byte| byte == b'0'));
    let rest = if is_decimal { "" } else { rest };
    let modifiers = || {
        rest.split(['-', ' ', ':', ','])
            .filter(|part| !part.is_empty())
    };
    let is_modifier =
        |part: &str| part.len() == 2 && part.bytes().all(|byte| byte.is_ascii_alphanumeric());
    // digits that go on make a longer number
    let is_number = is_number && !rest.starts_with(|first: char| first.is_ascii_digit());
    (is_number && modifiers().all(is_modifier)).then(|| (number, modifiers()))
}

/// The side that modifiers name. LT and RT: left and right; TA and T1 to T4: toes of the left foot from the great toe on, T5 to
/// T9: of the right. Source: HCPCS Level II modifiers, Centers for Medicare & Medicaid Services, from memory.
pub(super) fn side<'m>(modifiers: impl Iterator<Item = &'m str>) -> Option<Side> {
    let mut sides = modifiers.filter_map(|modifier| match modifier {
        "LT" | "TA" | "T1" | "T2" | "T3" | "T4" => Some(Side::Left),
        "RT" | "T5" | "T6" | "T7" | "T8" | "T9" => Some(Side::Right),
        _ => None,
    });
    let first = sides.next()?;
    // both sides named are none
    sides.all(|side| side == first).then_some(first)
}
