//! What the reader takes and refuses.

use super::*;
use crate::testing::Random;

fn refused(bytes: &[u8]) -> Finding {
    read(bytes).unwrap_err()
}

fn at(finding: &Finding) -> (Option<u32>, Option<u32>) {
    (finding.line, finding.column)
}

#[test]
fn places_in_yaml() {
    let tree = read("\u{feff}name: a\r\nlist:\r\n  - x: 1\r\n    y: [2, é, 3.5]\r\n".as_bytes()).unwrap().root;
    let place = |pointer: &str| {
        let (node, key) = tree.find(pointer).unwrap();
        ((key.line, key.column), (node.place.line, node.place.column))
    };
    assert_eq!(place("/name"), ((1, 1), (1, 7)));
    assert_eq!(place("/list/0/x"), ((3, 5), (3, 8)));
    assert_eq!(place("/list/0/y/2"), ((4, 15), (4, 15)));
    assert_eq!(tree.find("/list/1"), None);
    assert_eq!(tree.find("list"), None);
    assert_eq!(tree.find("/name/x"), None);
    assert_eq!(tree.to_json(), serde_json::json!({"name": "a", "list": [{"x": 1, "y": [2, "é", 3.5]}]}));
}

/// Whatever JSON holds, written with whatever space: the same values.
#[test]
fn random_json_is_read_as_json() {
    let mut random = Random(7);
    for _ in 0..3000 {
        let value = random.json(4);
        let text = random.spaced(&value);
        let expected: serde_json::Value = serde_json::from_str(&text).unwrap();
        if expected.is_null() {
            continue;
        }
        match read(text.as_bytes()) {
            Ok(read) => assert_eq!(read.root.to_json(), expected, "{text:?}"),
            Err(finding) => panic!("{finding}\n{text:?}"),
        }
    }
}

/// JSON with tabs, long keys, escapes and surrogates; columns count characters of the original text.
#[test]
fn json_is_read_as_json_readers_do() {
    let long = "k".repeat(3000);
    let texts = [
        "{\n\t\"a\" :\t1,\n\t\"b\": [true, null, -0.5E+3, {}, []],\"c\"\n:\"\\u00e9\\/\\n\\\\ud83d\\\"\"}".to_owned(),
        format!("{{\"{long}\":1}}"),
        r#"{"x": "\ud83d\uDE00 \\ud83d\\ude00 \uD834\uDD1E", "y": 1}"#.to_owned(),
    ];
    for text in &texts {
        let expected: serde_json::Value = serde_json::from_str(text).unwrap();
        assert_eq!(read(text.as_bytes()).unwrap().root.to_json(), expected, "{text}");
    }
    let tree = read(texts[2].as_bytes()).unwrap().root;
    let column = texts[2].find("\"y\"").unwrap() as u32 + 1;
    assert_eq!(tree.find("/y").unwrap().1, Place { line: 1, column });
}

#[test]
fn syntax_errors_have_a_place() {
    let finding = refused(b"name: a\nskus:\n\t- id: x\n");
    assert_eq!((finding.code, at(&finding)), (Code::Syntax, (Some(3), Some(2))));
    let finding = refused(br#"{"a": {"b": [1, 2}}"#);
    assert_eq!((finding.code, finding.line), (Code::Syntax, Some(1)));
    assert!(finding.message.len() > 40 && finding.column.unwrap() > 15, "{finding}");
    assert_eq!(refused(b"? [a]\n: b\n").code, Code::Syntax);
    assert_eq!(refused(b"{\"a\": 1} x").code, Code::Syntax);
}

#[test]
fn refuses_what_is_not_one_plain_document() {
    let finding = refused(b"name: a\nb: \xff");
    assert_eq!((finding.code, at(&finding)), (Code::NotText, (Some(2), Some(4))));
    let finding = refused(b"name: a\nb: \0c");
    assert_eq!((finding.code, at(&finding)), (Code::NotText, (Some(2), Some(4))));
    assert_eq!(refused(b"\xff\xfea\0").code, Code::NotText);
    let finding = refused(b"name: a\n---\nname: b\n");
    assert_eq!((finding.code, finding.line), (Code::SeveralDocuments, Some(2)));
    for empty in ["", "  \n", "# only a remark\n", "---\n", "null"] {
        assert_eq!(refused(empty.as_bytes()).code, Code::Empty, "{empty:?}");
    }
    assert_eq!(refused(b"a: &x 1\n").code, Code::Reference);
    assert_eq!(refused(b"a: !!str 1\n").code, Code::Reference);
}

#[test]
fn duplicate_keys_are_all_found() {
    let findings = read(b"{\"a\": [{\"b~/\": 1,\n \"b~/\": 2}], \"a\": 3}").unwrap().duplicates;
    let found: Vec<_> = findings.iter().map(|f| (f.code, f.pointer.as_str(), f.line, f.column)).collect();
    assert_eq!(
        found,
        [(Code::DuplicateKey, "/a/0/b~0~1", Some(2), Some(2)), (Code::DuplicateKey, "/a", Some(2), Some(14)),]
    );
}

#[test]
fn refuses_what_grows() {
    assert_eq!(refused(&vec![b'a'; 10_000_000]).code, Code::TooLarge);
    assert_eq!(refused(format!("[{}1]", "1,".repeat(MAX_NODES)).as_bytes()).code, Code::TooLarge);
    let mut indented = String::new();
    for depth in 0..1000 {
        indented.push_str(&" ".repeat(depth));
        indented.push_str("a:\n");
    }
    for deep in ["[".repeat(100_000), "{\"a\":".repeat(100_000), "- ".repeat(100_000), "[".repeat(60), indented] {
        assert_eq!(refused(deep.as_bytes()).code, Code::TooDeep, "{}", &deep[..20]);
    }
    let mut bomb = "a0: &a0 [x, x, x, x, x, x, x, x, x]\n".to_owned();
    for level in 1..12 {
        bomb.push_str(&format!("a{level}: &a{level} [{}]\n", vec![format!("*a{}", level - 1); 9].join(", ")));
    }
    assert_eq!(refused(bomb.as_bytes()).code, Code::Reference);
}
