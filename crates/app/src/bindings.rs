//! The transfer types as TypeScript, written into the screen's bridge.

use std::any::TypeId;
use std::collections::{BTreeMap, BTreeSet};

use ts_rs::{Config, TS, TypeVisitor};

struct Collector<'a> {
    config: &'a Config,
    seen: BTreeSet<TypeId>,
    declarations: BTreeMap<String, String>,
}

impl TypeVisitor for Collector<'_> {
    fn visit<T: TS + 'static + ?Sized>(&mut self) {
        if !self.seen.insert(TypeId::of::<T>()) {
            return;
        }
        if T::output_path().is_some() {
            let docs = T::docs().unwrap_or_default();
            let declaration = T::decl(self.config);
            self.declarations.insert(
                T::ident(self.config),
                format!("{docs}export {declaration}\n"),
            );
        }
        T::visit_dependencies(self);
        T::visit_generics(self);
    }
}

/// The whole file.
pub fn typescript() -> String {
    let config = Config::default();
    let mut collector = Collector {
        config: &config,
        seen: BTreeSet::new(),
        declarations: BTreeMap::new(),
    };
    crate::verbs::types(&mut collector);
    collector.visit::<crate::api::Event>();
    collector.visit::<crate::api::StagePhoto>();
    collector.visit::<crate::api::TakenPhoto>();
    collector.visit::<crate::api::Staged>();
    collector.visit::<units::Problem>();
    let mut text = String::from(
        "// Made from the Rust types by `cargo xtask bindings`; do not edit by hand.\n\n",
    );
    text += &format!(
        "/** Most whole minutes that writing a page takes. */\nexport const MAX_MINUTES = {};\n\n",
        casefile::MAX_MINUTES
    );
    text += &format!(
        "/** Confidence from which a letter is sure: less sure ones count in no figure. */\nexport const SURE = {};\n\n",
        units::Letter::SURE.0
    );
    text += &format!(
        "/** Least share, of what two boxes cover together, that makes them the same place. */\nexport const SAME_PLACE = {};\n\n",
        units::BoxMm::SAME_PLACE.0
    );
    for declaration in collector.declarations.values() {
        text += declaration;
        text += "\n";
    }
    text + &crate::verbs::table(&config)
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    /// The committed file is the one that the types make; asked to, it is written anew.
    #[test]
    fn bindings_are_up_to_date() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../ui/src/bridge/types.ts");
        let made = super::typescript();
        if std::env::var_os("POTHOOK_WRITE_BINDINGS").is_some() {
            std::fs::write(&file, &made).unwrap();
        }
        let committed = std::fs::read_to_string(&file).unwrap_or_default();
        assert!(
            committed == made,
            "run `cargo xtask bindings` and commit {}",
            file.display()
        );
    }
}
