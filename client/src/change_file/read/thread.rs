//! Threads, colors and differences of a change list, from their objects.
//! It does not know what the list is about.

use dyekin_core::change::TableVersion;
use dyekin_core::color::{AdaptationMethod, Trust};
use dyekin_core::error::Error;
use dyekin_core::{
    Code, Color, Conditions, DeltaE, Difference, Illuminant, Lab, Observer, Origin, Srgb8, TableId,
    ThreadRef,
};

use super::{FileThread, LIGHT_FIELDS, Reader, THREAD_FIELDS, table_hash};
use crate::chart::KeyThread;
use crate::chart::problems::bad_value;
use crate::json::{Node, Object};

impl Reader<'_> {
    pub(super) fn key_thread(&mut self, object: Object<'_>, path: &str) -> Option<KeyThread> {
        let table = self.check.needed(object, "table", path, TableId::parse);
        let code = self.check.needed(object, "code", path, Code::parse);
        let hash = self.check.needed(object, "hash", path, table_hash);
        Some(KeyThread { thread: ThreadRef { table: table?, code: code? }, table_hash: hash? })
    }

    pub(super) fn threads(
        &mut self,
        object: Object<'_>,
        key: &str,
        path: &str,
        standard: Option<Lab>,
    ) -> Vec<FileThread> {
        let mut threads = Vec::new();
        for (number, node) in self.check.list_of(object, key).iter().enumerate() {
            threads.extend(self.thread(node, &format!("{path}.{key}[{number}]"), standard));
        }
        threads
    }

    fn thread(&mut self, node: &Node, path: &str, standard: Option<Lab>) -> Option<FileThread> {
        let object = self.check.object(node, path, &THREAD_FIELDS)?;
        let thread = self.key_thread(object, path);
        let name = self.check.optional(object, "name", |text| Ok(text.to_owned()));
        let hex = self.check.needed(object, "hex", path, Srgb8::parse_hex);
        let difference = self.difference(object, path, standard);
        let lights = self.lights(object, path);
        let as_near = object.get("as_near").and_then(|flag| self.check.flag(flag, path));
        let thread = thread?;
        let listed = TableVersion { table: thread.thread.table.clone(), hash: thread.table_hash };
        if !self.tables.contains(&listed) {
            let reason = "a thread of a table, or of a version, that `tables` does not name";
            self.check.bad(node, path, reason, "make the list again");
        }
        Some(FileThread {
            thread,
            name: name.unwrap_or_default(),
            hex: hex?,
            difference: difference?,
            lights,
            as_near: as_near.unwrap_or(false),
        })
    }

    /// The differences under the lights that ranked, each light once.
    fn lights(&mut self, object: Object<'_>, path: &str) -> Vec<(Illuminant, DeltaE)> {
        let mut lights: Vec<(Illuminant, DeltaE)> = Vec::new();
        for (number, node) in self.check.list_of(object, "lights").iter().enumerate() {
            let path = format!("{path}.lights[{number}]");
            let Some(object) = self.check.object(node, &path, &LIGHT_FIELDS) else { continue };
            let light = self.check.needed(object, "light", &path, illuminant);
            let delta_e = self.delta_e(object, "difference", &path);
            let (Some(light), Some(delta_e)) = (light, delta_e) else { continue };
            if lights.iter().any(|(held, _)| *held == light) {
                let reason = "a second difference under the same light";
                self.check.bad(node, &path, reason, "leave lights as they were made");
            }
            lights.push((light, delta_e));
        }
        lights
    }

    pub(super) fn difference(
        &mut self,
        object: Object<'_>,
        path: &str,
        standard: Option<Lab>,
    ) -> Option<Difference> {
        let delta_e = self.delta_e(object, "difference", path);
        let lightness = self.number(object, "lightness", path);
        let chroma = self.number(object, "chroma", path);
        let hue = self.number(object, "hue", path);
        let a = self.number(object, "a", path);
        let b = self.number(object, "b", path);
        let (trust, standard) = self.trust(object, path, standard)?;
        if let Some(words) = object.get("words") {
            // Said again from the numbers when the list is written.
            self.check.text(words, path);
        }
        Some(Difference {
            delta_e: delta_e?,
            formula: self.formula,
            standard,
            lightness: lightness?,
            chroma: chroma?,
            hue: hue?,
            a: a?,
            b: b?,
            trust,
        })
    }

    /// How far the difference can be trusted, and what it was taken from: an adapted standard is not
    /// as it was measured.
    fn trust(
        &mut self,
        object: Object<'_>,
        path: &str,
        standard: Option<Lab>,
    ) -> Option<(Trust, Lab)> {
        let node = self.check.need(object, "trust", path)?;
        let trust = match (self.check.text(node, path)?, object.get("adapted")) {
            ("measured", None) => Trust::Measured,
            ("rough", None) => Trust::Rough,
            ("adapted", Some(adapted)) => return self.adapted(adapted, path),
            ("measured" | "rough" | "adapted", _) => {
                let reason = "`adapted` stands beside the trust `adapted` and no other";
                self.check.bad(node, path, reason, "leave trust as it was made");
                return None;
            }
            (_, _) => {
                self.check.bad(node, path, "not a trust", "measured, adapted or rough");
                return None;
            }
        };
        Some((trust, standard?))
    }

    fn adapted(&mut self, node: &Node, path: &str) -> Option<(Trust, Lab)> {
        let path = format!("{path}.adapted");
        let object = self.check.object(node, &path, &["method", "standard"])?;
        let method = self.check.needed(object, "method", &path, |text| {
            AdaptationMethod::parse(text)
                .ok_or_else(|| bad_value(text, "not a method of adaptation", "bradford or cat16"))
        });
        let standard = self.check.need(object, "standard", &path)?;
        let lab = self.lab(standard, &path)?;
        Some((Trust::Adapted(method?), lab))
    }

    pub(super) fn standard(&mut self, node: &Node, path: &str) -> Option<Color> {
        let known = ["hex", "lab", "illuminant", "observer", "origin", "uncertainty"];
        let object = self.check.object(node, path, &known)?;
        let origin = self.check.needed(object, "origin", path, |text| {
            Origin::parse(text).ok_or_else(|| {
                bad_value(text, "not an origin", "meter, scan, screen, spectrum or unknown")
            })
        })?;
        let color = match (object.get("hex"), object.get("lab")) {
            (Some(hex), None) => {
                Color::listed(self.check.parsed(hex, path, Srgb8::parse_hex)?, origin)
            }
            (None, Some(lab)) => {
                let lab = self.lab(lab, path)?;
                Color::lab_under(lab, self.conditions(object, path)?, origin)
            }
            _ => {
                self.check.bad(node, path, "a standard has either hex or lab", "keep one of them");
                return None;
            }
        };
        match object.get("uncertainty") {
            None => Some(color),
            Some(node) => {
                let number = self.check.number(node, path)?;
                self.check.take(node, path, color.with_uncertainty(number))
            }
        }
    }

    fn lab(&mut self, node: &Node, path: &str) -> Option<Lab> {
        let items = self.check.list(node, path)?;
        let [l, a, b] = items else {
            self.check.bad(node, path, "three numbers are expected", "write [L*, a*, b*]");
            return None;
        };
        let l = self.check.number(l, path);
        let a = self.check.number(a, path);
        let b = self.check.number(b, path);
        self.check.take(node, path, Lab::new(l?, a?, b?))
    }

    fn conditions(&mut self, object: Object<'_>, path: &str) -> Option<Conditions> {
        let illuminant = self.check.needed(object, "illuminant", path, illuminant);
        let observer = self.check.need(object, "observer", path)?;
        let degrees = self.check.whole(observer, path, 10)?;
        let known = Observer::parse(&degrees.to_string());
        if known.is_none() {
            self.check.bad(observer, path, "the observer is 2 or 10 degrees", "write 2 or 10");
        }
        Some(Conditions { illuminant: illuminant?, observer: known? })
    }
}

fn illuminant(text: &str) -> Result<Illuminant, Error> {
    Illuminant::parse(text)
        .ok_or_else(|| bad_value(text, "not an illuminant", "D65, D50, A, FL2, FL11, LED-B3"))
}
