//! How the page templates are filled.

use std::collections::BTreeMap;

use minijinja::syntax::SyntaxConfig;
use minijinja::{Environment, Error, UndefinedBehavior, Value};
use serde::Serialize;

/// An environment whose tags on lines of their own leave no empty lines behind.
pub fn environment() -> Result<Environment<'static>, Error> {
    let mut environment = Environment::new();
    let syntax = SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build()?;
    environment.set_syntax(syntax);
    // a misspelled name is an error and no empty place
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    Ok(environment)
}

/// A view as templates see it. It holds text, switches and whole numbers only.
pub fn value(view: &impl Serialize) -> Value {
    serde_json::to_value(view).map_or(Value::UNDEFINED, from_json)
}

fn from_json(value: serde_json::Value) -> Value {
    match value {
        serde_json::Value::Null => Value::from(()),
        serde_json::Value::Bool(switch) => Value::from(switch),
        serde_json::Value::Number(number) => {
            number.as_u64().map_or_else(|| Value::from(number.to_string()), Value::from)
        }
        serde_json::Value::String(text) => Value::from(text),
        serde_json::Value::Array(items) => items.into_iter().map(from_json).collect(),
        serde_json::Value::Object(members) => {
            let members = members.into_iter().map(|(name, member)| (name, from_json(member)));
            Value::from(members.collect::<BTreeMap<String, Value>>())
        }
    }
}
