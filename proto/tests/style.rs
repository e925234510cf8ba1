//! The rules of names and comments, read from the descriptors of the contract. They are the core
//! of buf's STANDARD and COMMENTS rules and of the Google API guide, without either tool.

use dyekin_proto::FILE_DESCRIPTOR_SET;
use prost::Message;
use prost_types::field_descriptor_proto::Type;
use prost_types::source_code_info::Location;
use prost_types::{FileDescriptorProto, FileDescriptorSet};

fn contract() -> Vec<FileDescriptorProto> {
    let set = FileDescriptorSet::decode(FILE_DESCRIPTOR_SET).expect("a descriptor set");
    set.file.into_iter().filter(|file| file.package().starts_with("dyekin")).collect()
}

#[track_caller]
fn none(problems: &[String]) {
    assert!(problems.is_empty(), "\n{}", problems.join("\n"));
}

fn is_snake(name: &str) -> bool {
    !name.is_empty()
        && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
        && !name.starts_with('_')
        && !name.ends_with('_')
        && !name.contains("__")
}

fn is_pascal(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_uppercase())
        && name.chars().all(|c| c.is_ascii_alphanumeric())
}

/// `FormulaKind` as `FORMULA_KIND`.
fn shouted(name: &str) -> String {
    let mut out = String::new();
    for character in name.chars() {
        if character.is_ascii_uppercase() && !out.is_empty() {
            out.push('_');
        }
        out.push(character.to_ascii_uppercase());
    }
    out
}

#[test]
fn the_package_is_versioned_and_matches_its_folder() {
    let files = contract();
    assert!(files.len() >= 7, "the contract has its files");
    for file in files {
        assert_eq!(file.package(), "dyekin.v1", "{}", file.name());
        assert!(file.name().starts_with("dyekin/v1/"), "{}", file.name());
        let stem = file.name().trim_start_matches("dyekin/v1/").trim_end_matches(".proto");
        assert!(is_snake(stem), "{}", file.name());
        assert_eq!(file.syntax(), "proto3", "{}", file.name());
    }
}

#[test]
fn services_and_methods_are_named_by_the_rules() {
    let mut problems = Vec::new();
    for service in contract().iter().flat_map(|file| &file.service) {
        if !service.name().ends_with("Service") {
            problems.push(format!("{} does not end in Service", service.name()));
        }
        for method in &service.method {
            let name = method.name();
            if method.input_type() != format!(".dyekin.v1.{name}Request") {
                problems.push(format!("{name} takes {}", method.input_type()));
            }
            if method.output_type() != format!(".dyekin.v1.{name}Response") {
                problems.push(format!("{name} returns {}", method.output_type()));
            }
        }
    }
    none(&problems);
}

#[test]
fn enums_are_prefixed_and_start_unspecified() {
    let mut problems = Vec::new();
    for file in contract() {
        for one in &file.enum_type {
            let prefix = shouted(one.name());
            let zero = one.value.first().expect("a value");
            if zero.number() != 0 || zero.name() != format!("{prefix}_UNSPECIFIED") {
                problems.push(format!("{} starts with {}", one.name(), zero.name()));
            }
            for value in &one.value {
                if !value.name().starts_with(&format!("{prefix}_")) {
                    problems.push(format!("{} lacks the prefix {prefix}", value.name()));
                }
            }
        }
        for message in &file.message_type {
            if !message.enum_type.is_empty() {
                problems.push(format!("{} holds an enum; enums stand alone", message.name()));
            }
        }
    }
    none(&problems);
}

#[test]
fn fields_are_named_and_typed_by_the_rules() {
    let mut problems = Vec::new();
    for file in contract() {
        for message in &file.message_type {
            if !is_pascal(message.name()) {
                problems.push(format!("message {}", message.name()));
            }
            for field in &message.field {
                let path = format!("{}.{}", message.name(), field.name());
                if !is_snake(field.name()) || field.name().starts_with("is_") {
                    problems.push(format!("{path} is not named by the rules"));
                }
                let unsigned = [Type::Uint32, Type::Uint64, Type::Fixed32, Type::Fixed64];
                if unsigned.contains(&field.r#type()) || field.r#type() == Type::Float {
                    problems.push(format!("{path} is unsigned or single precision"));
                }
                if ["colour", "grey", "distance", "metre"]
                    .iter()
                    .any(|word| field.name().contains(word))
                {
                    problems.push(format!("{path} is not spelled by the rules"));
                }
            }
        }
    }
    none(&problems);
}

/// Paths of everything that needs a comment, with a name for the message of the test.
fn elements(file: &FileDescriptorProto) -> Vec<(Vec<i32>, String)> {
    let at = |place: usize| i32::try_from(place).expect("a small file");
    let mut all = Vec::new();
    for (i, message) in file.message_type.iter().enumerate() {
        all.push((vec![4, at(i)], message.name().to_owned()));
        for (j, field) in message.field.iter().enumerate() {
            let name = format!("{}.{}", message.name(), field.name());
            all.push((vec![4, at(i), 2, at(j)], name));
        }
        // The oneof behind an optional field is not written by anybody.
        let optional = message.field.iter().filter(|field| field.proto3_optional()).count();
        for j in 0..message.oneof_decl.len() - optional {
            let name = format!("{}.{}", message.name(), message.oneof_decl[j].name());
            all.push((vec![4, at(i), 8, at(j)], name));
        }
    }
    for (i, one) in file.enum_type.iter().enumerate() {
        all.push((vec![5, at(i)], one.name().to_owned()));
        for (j, value) in one.value.iter().enumerate() {
            all.push((vec![5, at(i), 2, at(j)], value.name().to_owned()));
        }
    }
    for (i, service) in file.service.iter().enumerate() {
        all.push((vec![6, at(i)], service.name().to_owned()));
        for (j, method) in service.method.iter().enumerate() {
            all.push((vec![6, at(i), 2, at(j)], method.name().to_owned()));
        }
    }
    all
}

#[test]
fn every_element_has_a_comment_in_sentences() {
    let mut problems = Vec::new();
    for file in contract() {
        let info = file.source_code_info.clone().unwrap_or_default();
        for (path, name) in elements(&file) {
            let found = |location: &&Location| location.path == path;
            let comment = info.location.iter().find(found).map_or("", Location::leading_comments);
            let text = comment.trim();
            if text.is_empty() {
                problems.push(format!("{}: {name} has no comment", file.name()));
            } else if !text.ends_with('.') {
                problems.push(format!("{}: the comment of {name} is no sentence", file.name()));
            } else if text.contains('<') && text.contains("</") || text.contains("\n #") {
                problems.push(format!("{}: the comment of {name} holds markup", file.name()));
            }
        }
    }
    none(&problems);
}

#[test]
fn numeric_fields_state_their_range_or_unit() {
    let mut problems = Vec::new();
    for file in contract() {
        let info = file.source_code_info.clone().unwrap_or_default();
        for (i, message) in file.message_type.iter().enumerate() {
            for (j, field) in message.field.iter().enumerate() {
                if !matches!(field.r#type(), Type::Double) {
                    continue;
                }
                let at = |place: usize| i32::try_from(place).expect("a small file");
                let path = vec![4, at(i), 2, at(j)];
                let found = |location: &&Location| location.path == path;
                let comment =
                    info.location.iter().find(found).map_or("", Location::leading_comments);
                let says = [" to ", "0 or more", "more than 0", "unit", "ositive", "ifference"]
                    .iter()
                    .any(|word| comment.contains(word));
                if !says {
                    problems.push(format!("{}.{}", message.name(), field.name()));
                }
            }
        }
    }
    none(&problems);
}

#[test]
fn lists_are_paged() {
    for file in contract() {
        for message in &file.message_type {
            let name = message.name();
            if name.starts_with("List") && name.ends_with("Request") {
                for wanted in ["page_size", "page_token"] {
                    assert!(message.field.iter().any(|f| f.name() == wanted), "{name}.{wanted}");
                }
            }
            if name.starts_with("List") && name.ends_with("Response") {
                assert_eq!(message.field[0].number(), 1, "{name}");
                assert!(message.field.iter().any(|f| f.name() == "next_page_token"), "{name}");
            }
        }
    }
}

#[test]
fn writes_have_a_request_id() {
    for file in contract() {
        for message in &file.message_type {
            if matches!(message.name(), "ImportTableHeader" | "DeleteTableRequest") {
                assert!(message.field.iter().any(|field| field.name() == "request_id"));
            }
        }
    }
}
