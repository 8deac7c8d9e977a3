//! Words that people are called by, and words that look like them and are not.

/// Whether a word is among the given names most often borne in English-speaking countries.
///
/// Source: the first ranks of the published birth-name counts of the United States and of England and Wales over the
/// twentieth century, from memory; names that are also everyday or place words are left out.
pub(super) fn is_given_name(word: &str) -> bool {
    let word = word.to_lowercase();
    GIVEN_NAMES
        .split_ascii_whitespace()
        .any(|name| name == word)
}

/// Whether a capitalised word belongs to a clinic, a foot or a place rather than to a person.
pub(super) fn is_clinical_word(word: &str) -> bool {
    let word = word.to_lowercase();
    CLINICAL_WORDS
        .split_ascii_whitespace()
        .any(|known| known == word)
}

const GIVEN_NAMES: &str = "
    james john robert michael william david richard joseph thomas charles christopher daniel matthew anthony donald steven
    paul andrew joshua kenneth kevin brian george timothy ronald edward jason jeffrey ryan jacob nicholas eric jonathan
    stephen larry justin scott brandon benjamin samuel gregory alexander patrick raymond jack dennis jerry tyler aaron jose
    adam nathan henry zachary douglas peter kyle noah ethan jeremy walter christian keith roger terry harry sean gerald
    jesse bryan lawrence arthur gabriel bruce albert willie alan juan louis wayne roy ralph randy eugene vincent russell
    bobby philip johnny colin graham nigel trevor derek malcolm stuart ian gary barry geoffrey norman ernest leonard
    frederick alfred stanley cyril reginald mohammed muhammad ahmed ali
    mary patricia jennifer linda elizabeth barbara susan jessica sarah karen lisa nancy betty margaret sandra ashley
    kimberly emily donna michelle carol amanda dorothy melissa deborah stephanie rebecca sharon laura cynthia kathleen amy
    angela shirley anna brenda pamela emma nicole helen samantha katherine christine debra rachel carolyn janet catherine
    maria heather diane ruth julie olivia joyce virginia kelly lauren christina joan evelyn judith megan andrea cheryl
    hannah jacqueline martha gloria teresa ann anne sara madison frances kathryn janice jean abigail alice julia judy
    sophia denise amber doris marilyn danielle beverly isabella theresa diana natalie brittany marie kayla alexis lori
    jane margery sheila maureen doreen edith ethel gladys hilda jill gillian hazel pauline valerie wendy fatima";

const CLINICAL_WORDS: &str = "
    left right both bilateral toe toes hallux great heel heels foot feet ankle leg limb knee hip plantar dorsal medial
    lateral tip midfoot forefoot hindfoot metatarsal head stump ray first second third fourth fifth lesser
    clinic clinics hospital ward centre center practice surgery unit service services department general community
    district nurse nurses nursing nurse-led podiatry podiatrist podiatrists vascular diabetes diabetic diabetology
    orthotics orthotist orthopaedic orthopedic surgeon physician doctor consultant registrar specialist senior junior
    student assistant team home visit visits care residential house health medical primary secondary outpatient inpatient
    review new follow up self referral emergency urgent routine walk in remote telephone video total contact cast walker
    removable boot shoe shoes insole felt foam dressing alginate hydrogel silver honey iodine angiography angioplasty
    bypass duplex doppler ultrasound scan study debridement amputation infection ulcer wound open closed healed type
    not known unknown none other yes no north south east west street road lane quay hill park st saint the of and
    wet dry necrosis slough granulation tissue skin bone tendon muscle deep superficial mild moderate severe";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_given_name_is_a_clinical_word() {
        let both: Vec<&str> = GIVEN_NAMES
            .split_ascii_whitespace()
            .filter(|name| is_clinical_word(name))
            .collect();
        assert_eq!(both, Vec::<&str>::new());
        assert!(is_given_name("Mary") && is_given_name("JOHN") && !is_given_name("Heel"));
    }
}
