//! Changes of a cell document by place.

use serde_json::{Map, Value};

use crate::check::Document;
use crate::codes::Code;
use crate::finding::Finding;
use crate::read::quoted;
use crate::wire::alternatives::Change;

/// The name that stands for the net rates of all SKUs.
const RATE: &str = "rate";

/// The document with changes, checked anew.
///
/// # Errors
/// A change leads nowhere or does not fit what is there, or the changed document is wrong.
pub fn changed(document: &Document, changes: &[Change]) -> Result<Document, Vec<Finding>> {
    let mut value = as_json(document);
    for change in changes {
        apply(&mut value, change).map_err(|finding| vec![finding])?;
    }
    crate::read_any_cell(value.to_string().as_bytes()).map_err(|findings| {
        // Its lines are those of no text that anybody has seen.
        findings.into_iter().map(|f| Finding { line: None, column: None, ..f }).collect()
    })
}

/// The document with its defaults filled in.
pub(super) fn as_json(document: &Document) -> Value {
    serde_json::to_value(&document.wire).unwrap_or_default()
}

fn wrong(change: &Change, what: &str) -> Finding {
    Finding::new(Code::BadChange, "", format!("the change at {} {what}", quoted(&change.at)))
}

/// Applies one change to all places that it names.
pub(super) fn apply(value: &mut Value, change: &Change) -> Result<(), Finding> {
    let kinds = [change.to.is_some(), change.times.is_some(), change.plus.is_some(), change.leave_out];
    if kinds.iter().filter(|&&k| k).count() != 1 {
        return Err(wrong(change, "needs exactly one of `to`, `times`, `plus` and `leave_out`"));
    }
    let places = places(value, &change.at).map_err(|what| wrong(change, &what))?;
    // From the last, so that entries that are left out of a list do not move others.
    for pointer in places.into_iter().rev() {
        one(value, &pointer, change).map_err(|what| wrong(change, &what))?;
    }
    Ok(())
}

fn one(value: &mut Value, pointer: &[String], change: &Change) -> Result<(), String> {
    let Some((last, way)) = pointer.split_last() else { return Err("leads to the whole document".to_owned()) };
    let mut here = value;
    for step in way {
        here = match here {
            Value::Object(map) => {
                let next = map.entry(step.as_str()).or_insert_with(|| Value::Object(Map::new()));
                if next.is_null() {
                    *next = Value::Object(Map::new());
                }
                next
            }
            Value::Array(list) => step
                .parse::<usize>()
                .ok()
                .and_then(|i| list.get_mut(i))
                .ok_or_else(|| format!("leads nowhere: there is no entry {}", quoted(step)))?,
            _ => return Err(format!("leads nowhere: {} is no list or mapping", quoted(step))),
        };
    }
    match here {
        Value::Object(map) if change.leave_out => {
            map.remove(last.as_str());
        }
        Value::Object(map) => {
            let new = new_value(map.get(last.as_str()), change)?;
            map.insert(last.clone(), new);
        }
        Value::Array(list) => {
            let at = last.parse::<usize>().ok().filter(|&i| i < list.len());
            let at = at.ok_or_else(|| format!("leads nowhere: there is no entry {}", quoted(last)))?;
            if change.leave_out {
                list.remove(at);
            } else {
                list[at] = new_value(list.get(at), change)?;
            }
        }
        _ => return Err("leads nowhere".to_owned()),
    }
    Ok(())
}

fn new_value(old: Option<&Value>, change: &Change) -> Result<Value, String> {
    if let Some(to) = &change.to {
        return Ok(to.clone());
    }
    let Some(number) = old.and_then(Value::as_f64) else {
        return Err("asks for a number, and there is none to change".to_owned());
    };
    let new = number * change.times.unwrap_or(1.0) + change.plus.unwrap_or(0.0);
    // A count stays a count.
    #[allow(clippy::cast_possible_truncation)]
    if old.is_some_and(|old| old.is_u64() || old.is_i64()) && new.fract().abs() < 1e-9 && new.abs() < 1e15 {
        return Ok((new as i64).into());
    }
    Ok(new.into())
}

/// Every place that a text names, as steps from the top.
pub(super) fn places(value: &Value, at: &str) -> Result<Vec<Vec<String>>, String> {
    let at = at.trim().trim_start_matches('/');
    if at == RATE {
        let rates = ["cases_per_min", "products_per_min"];
        let mut all = Vec::new();
        for key in rates {
            let found = places(value, &format!("skus/*/net_rate/{key}"))?;
            all.extend(found.into_iter().filter(|steps| pointer_of(value, steps).is_some_and(Value::is_number)));
        }
        return Ok(all);
    }
    if at.is_empty() {
        return Err("names no place".to_owned());
    }
    let mut all: Vec<(Vec<String>, Option<&Value>)> = vec![(Vec::new(), Some(value))];
    for step in at.split('/') {
        let step = step.replace("~1", "/").replace("~0", "~");
        let mut next = Vec::new();
        for (steps, here) in all {
            let down = |step: String| [steps.clone(), vec![step]].concat();
            match here {
                Some(Value::Array(list)) if step == "*" => {
                    next.extend(list.iter().enumerate().map(|(i, entry)| (down(i.to_string()), Some(entry))));
                }
                Some(Value::Array(list)) => {
                    let named = |key: &str| {
                        list.iter().position(|entry| entry.get(key).and_then(Value::as_str) == Some(step.as_str()))
                    };
                    let index = || step.parse::<usize>().ok().filter(|&i| i < list.len());
                    let Some(i) = named("id").or_else(|| named("from")).or_else(index) else {
                        return Err(format!("leads nowhere: no entry is called {}", quoted(&step)));
                    };
                    next.push((down(i.to_string()), list.get(i)));
                }
                Some(Value::Object(map)) if step == "*" => {
                    next.extend(map.iter().map(|(key, entry)| (down(key.clone()), Some(entry))));
                }
                Some(Value::Object(map)) => next.push((down(step.clone()), map.get(&step))),
                // What is missing may be added.
                None | Some(Value::Null) => next.push((down(step.clone()), None)),
                Some(_) => return Err(format!("leads nowhere: {} stands under a plain value", quoted(&step))),
            }
        }
        all = next;
    }
    Ok(all.into_iter().map(|(steps, _)| steps).collect())
}

/// What steps lead to.
pub(super) fn pointer_of<'v>(value: &'v Value, steps: &[String]) -> Option<&'v Value> {
    steps.iter().try_fold(value, |here, step| match here {
        Value::Array(list) => list.get(step.parse::<usize>().ok()?),
        Value::Object(map) => map.get(step),
        _ => None,
    })
}

/// A change as it is written on one line: `PLACE=VALUE`, `PLACE*NUMBER`, `PLACE+NUMBER`, or `PLACE=` to leave a key out.
///
/// # Errors
/// What is wrong with the text.
pub fn parse_change(text: &str) -> Result<Change, String> {
    // A `*` in a place stands between slashes, one that multiplies does not.
    let bytes = text.as_bytes();
    let whole = |i: usize| i > 0 && bytes[i - 1] == b'/';
    let found = text.char_indices().find(|&(i, c)| c == '=' || c == '+' || c == '*' && !whole(i));
    let Some((i, sign)) = found else {
        return Err(format!("{}: write PLACE=VALUE, PLACE*NUMBER or PLACE+NUMBER", quoted(text)));
    };
    let (at, rest) = (text[..i].trim().to_owned(), text[i + 1..].trim());
    let number = || rest.parse::<f64>().map_err(|_| format!("{} is no number", quoted(rest)));
    let change = Change { at, ..Change::default() };
    Ok(match sign {
        '*' => Change { times: Some(number()?), ..change },
        '+' => Change { plus: Some(number()?), ..change },
        _ if rest.is_empty() => Change { leave_out: true, ..change },
        _ => Change { to: Some(serde_json::from_str(rest).unwrap_or_else(|_| rest.into())), ..change },
    })
}

/// A change as [`parse_change`] reads it.
#[must_use]
pub fn worded(change: &Change) -> String {
    let Change { at, to, times, plus, .. } = change;
    match (to, times, plus) {
        (Some(to), ..) => format!("{at}={to}"),
        (_, Some(times), _) => format!("{at}*{}", crate::read::short(*times)),
        (.., Some(plus)) => format!("{at}+{}", crate::read::short(*plus)),
        _ => format!("{at}="),
    }
}
