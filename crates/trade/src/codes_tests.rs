use super::*;

/// A small fixed generator, so that every run checks the same codes (Knuth's MMIX constants).
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub(crate) fn below(&mut self, bound: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % bound
    }

    pub(crate) fn code(&mut self, alphabet: &str, length: usize) -> String {
        let all: Vec<char> = alphabet.chars().collect();
        (0..length).map(|_| all[self.below(all.len())]).collect()
    }
}

const DIGITS: &str = "0123456789";
const ALPHANUMERIC: &str = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
const CODE39: &str = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%";

fn fits(rule: CodeRule, code: &str) -> bool {
    rule.check(code) == CodeVerdict::Fits
}

fn why(rule: CodeRule, code: &str) -> String {
    match rule.check(code) {
        CodeVerdict::Fails { why } => why,
        other => panic!("{code}: {other:?}"),
    }
}

#[test]
fn names_of_rules_survive() {
    for (name, rule) in RULES {
        assert_eq!((CodeRule::parse(name), rule.name()), (Some(rule), name));
    }
    assert_eq!(CodeRule::parse("mod97"), None);
    assert_eq!(CodeRule::None.check("LF-CAM-0042"), CodeVerdict::NotApplicable);
    assert_eq!(CodeRule::Luhn.check("  "), CodeVerdict::NotApplicable);
}

/// Published values, each with its place.
#[test]
fn published_values_come_out() {
    // ISO/IEC 7812-1's method; the number is the one that descriptions of it use.
    assert!(fits(CodeRule::Luhn, "79927398713"));
    // 3GPP TS 23.003 annex B, as listed in TRADE §5.
    assert_eq!(imei::check_character("26053179311383"), Ok('7'));
    assert!(fits(CodeRule::Imei, "26 053179 311383 7"));
    // GS1's check digit examples, as listed in TRADE §5.
    assert_eq!(gs1::check_character("629104150021"), Ok('3'));
    assert_eq!(gs1::check_character("890400021003"), Ok('7'));
    assert!(fits(CodeRule::Gs1, "6291041500213"));
    // SSCC, as listed in TRADE §5.
    assert_eq!(gs1::check_character("37610425002123456"), Ok('9'));
    assert!(fits(CodeRule::Gs1, "376104250021234569"));
    // Code 39 modulo 43, as listed in TRADE §5.
    assert_eq!(code39::check_character("123XYZ"), Ok('M'));
    assert!(fits(CodeRule::Code39Mod43, "*123XYZM*") && fits(CodeRule::Code39Mod43, "123xyzm"));
    // ISO/IEC 7064 MOD 37,36, as listed in TRADE §5.
    assert_eq!(iso7064::check_character("A12425GABC1234002"), Ok('M'));
    assert!(fits(CodeRule::Iso7064Mod37And36, "A12425GABC1234002M"));
}

/// Computed by PyPI python-stdnum 2.2 (stdnum.luhn, stdnum.ean, stdnum.iso7064.mod_37_36) and frozen here.
#[test]
fn frozen_values_of_an_outside_library_come_out() {
    let luhn = "526018159081 301661318602 913909960308 824628194824 199351819099 378657975439 231948757498 \
                118625276019 895559797116 471049746509 752917034239 667127684260";
    let gs1 = "846563212233079243 402685995289078666 661760313721590100 928159013962459573 117777412154728035 \
               852808414852538885 539336338750047431 957551313735379904 751163726516761226 202972997528820011 \
               826330434839548626 057986828288072909";
    let iso = "9B9U7Z3KXH XZU6Z3FCH2S 6WSZ14SKWWCC HSWYUWFXGZCS8 8Q7PSK4FR7 4DJ79N9G8TR E6PVAEARWPL5 \
               QCMK5N1LZTS16 OLXIW47E6R 5GH2BH8RGPI 9YWVK5H3BR4D H15G5E4G7T0LU";
    let each = [
        (CodeRule::Luhn, luhn),
        (CodeRule::Gs1, gs1),
        (CodeRule::Iso7064Mod37And36, iso),
    ];
    for (rule, list) in each {
        for code in list.split_whitespace() {
            assert!(fits(rule, code), "{} {code}", rule.name());
        }
    }
}

#[test]
fn what_does_not_fit_is_named() {
    assert_eq!(
        why(CodeRule::Luhn, "7992739871O"),
        "has 'O' in place 11; only digits belong there"
    );
    assert_eq!(
        why(CodeRule::Luhn, "79927398710"),
        "has the check character '0', but the rest gives '3'"
    );
    assert_eq!(
        why(CodeRule::Imei, "26053179311383"),
        "has 14 characters; an IMEI on a label has 15 digits, the last of them the check digit"
    );
    assert_eq!(
        why(CodeRule::Gs1, "629104"),
        "has 6 characters; GS1 keys have 8, 12, 13, 14, 17 or 18 digits"
    );
    assert!(why(CodeRule::Code39Mod43, "12_4").contains("'_' in place 3"));
    assert!(why(CodeRule::Iso7064Mod37And36, "A-1").contains("'-' in place 2"));
    for rule in [CodeRule::Luhn, CodeRule::Code39Mod43, CodeRule::Iso7064Mod37And36] {
        assert!(why(rule, "7").contains("at least 2"));
    }
}

/// Luhn and IMEI against crate luhn, which shares no code with ours.
#[test]
fn ten_thousand_luhn_digits_agree_with_an_independent_library() {
    let mut dice = Dice::new(7812);
    for _ in 0..10_000 {
        let body = dice.code(DIGITS, 14);
        let theirs = char::from(::luhn::checksum(body.as_bytes()));
        assert_eq!(luhn::check_character(&body), Ok(theirs), "{body}");
        assert_eq!(imei::check_character(&body), Ok(theirs), "{body}");
        let code = format!("{body}{}", dice.below(10));
        assert_eq!(fits(CodeRule::Luhn, &code), ::luhn::valid(&code), "{code}");
    }
}

/// GS1: no independent crate, so a second formulation. Read from the left it is a pair of sums, one in case the next
/// digit weighs 3, one in case it weighs 1, which change places at each digit: no place is counted, nothing reversed.
#[test]
fn ten_thousand_gs1_digits_agree_with_a_second_formulation() {
    let mut dice = Dice::new(1973);
    for _ in 0..10_000 {
        let length = [7, 11, 12, 13, 16, 17][dice.below(6)];
        let body = dice.code(DIGITS, length);
        let pair = |(last3, last1): (u32, u32), d: u32| (last1 + 3 * d, last3 + d);
        let (sum, _) = body.chars().map(|c| c.to_digit(10).unwrap()).fold((0, 0), pair);
        let code = format!("{body}{}", sum.next_multiple_of(10) - sum);
        assert!(fits(CodeRule::Gs1, &code), "{code}");
    }
}

/// Code 39: no independent crate, so a second formulation without the table: values by arithmetic on the
/// character's number, and the check character found by trying each until value and sum agree.
#[test]
fn ten_thousand_code39_characters_agree_with_a_second_formulation() {
    fn value(c: char) -> u32 {
        match c {
            '0'..='9' => u32::from(c) - 48,
            'A'..='Z' => u32::from(c) - 55,
            '-' => 36,
            '.' => 37,
            ' ' => 38,
            '$' => 39,
            '/' => 40,
            '+' => 41,
            _ => 42,
        }
    }
    fn remainder(rest: &str) -> u32 {
        rest.chars()
            .next()
            .map_or(0, |c| (value(c) + remainder(&rest[1..])) % 43)
    }
    let mut dice = Dice::new(39);
    for _ in 0..10_000 {
        let length = 1 + dice.below(14);
        let body = dice.code(CODE39, length);
        let wanted = CODE39.chars().find(|c| value(*c) == remainder(&body)).unwrap();
        assert_eq!(code39::check_character(&body), Ok(wanted), "{body:?}");
    }
}

/// ISO/IEC 7064: no independent crate, so a second formulation: the doubling is undone instead of done. Read from
/// the check character towards the front, what must be carried in is found by halving modulo 37.
#[test]
fn ten_thousand_iso7064_characters_agree_with_a_second_formulation() {
    fn must_be_carried_in(rest: &[u32], out: u32) -> u32 {
        let Some((last, front)) = rest.split_last() else {
            return out;
        };
        // 19 is the half of 1 modulo 37.
        let sum = out * 19 % 37;
        let before = (sum + 36 - last) % 36;
        must_be_carried_in(front, if before == 0 { 36 } else { before })
    }
    let mut dice = Dice::new(7064);
    for _ in 0..10_000 {
        let length = 1 + dice.below(17);
        let body = dice.code(ALPHANUMERIC, length);
        let values: Vec<u32> = body.chars().map(|c| c.to_digit(36).unwrap()).collect();
        // The check character c needs (carry + c) mod 36 = 1; the empty front carries 36.
        let good = |c: &u32| must_be_carried_in(&values, (36 + 1 - c - 1) % 36 + 1) == 36;
        let all: Vec<u32> = (0..36).filter(good).collect();
        assert_eq!(all.len(), 1, "{body}");
        let ours = iso7064::check_character(&body).unwrap();
        assert_eq!(ours.to_digit(36), Some(all[0]), "{body}");
    }
}

/// Every rule sees a single wrong character, whatever it is and wherever it stands (VIN apart: see its tests).
#[test]
fn a_single_wrong_character_is_seen() {
    let codes = [
        (CodeRule::Luhn, "79927398713", DIGITS),
        (CodeRule::Imei, "260531793113837", DIGITS),
        (CodeRule::Gs1, "376104250021234569", DIGITS),
        (CodeRule::Code39Mod43, "123XYZM", CODE39),
        (CodeRule::Iso7064Mod37And36, "A12425GABC1234002M", ALPHANUMERIC),
    ];
    for (rule, code, alphabet) in codes {
        for (i, right) in code.char_indices() {
            for wrong in alphabet.chars().filter(|c| *c != right && *c != ' ') {
                let mut slip = code.to_owned();
                slip.replace_range(i..=i, &wrong.to_string());
                assert!(!fits(rule, &slip), "{} {slip}", rule.name());
            }
        }
    }
}

/// Known limits: these swaps of neighbours pass unseen, and no others of their kind do.
#[test]
fn the_swaps_that_pass_unseen_are_exactly_the_known_ones() {
    let unseen = |with: fn(&str) -> Result<char, Misfit>| {
        let mut list = Vec::new();
        for (a, b) in (0..10).flat_map(|a| (a + 1..10).map(move |b| (a, b))) {
            if with(&format!("4{a}{b}1")) == with(&format!("4{b}{a}1")) {
                list.push(format!("{a}{b}"));
            }
        }
        list
    };
    assert_eq!(unseen(luhn::check_character), ["09"]);
    assert_eq!(unseen(gs1::check_character), ["05", "16", "27", "38", "49"]);
    assert_eq!(unseen(code39::check_character).len(), 45, "a plain sum sees no swap");
    let twins = |a, b| luhn::check_character(&format!("1{a}{a}4")) == luhn::check_character(&format!("1{b}{b}4"));
    assert!(twins(2, 5) && twins(3, 6) && twins(4, 7) && !twins(1, 2));
}

/// MOD 37,36, counted over every carry and every pair: one pair of neighbours in 630 may be swapped unseen, and which
/// one depends on what stands before them.
#[test]
fn iso7064_misses_one_swap_in_630() {
    let pairs = || (0..36).flat_map(|a| (a + 1..36).map(move |b| (a, b)));
    let step = |carry, a, b| iso7064::step(iso7064::step(carry, a), b);
    for carry in 1..37 {
        let missed: Vec<(u32, u32)> = pairs()
            .filter(|&(a, b)| step(carry, a, b) == step(carry, b, a))
            .collect();
        assert_eq!((missed.len(), pairs().count()), (1, 630), "{carry}: {missed:?}");
    }
    // At the beginning of a code the carry is 36, and the pair is I and J.
    assert_eq!(iso7064::check_character("IJX42"), iso7064::check_character("JIX42"));
}
