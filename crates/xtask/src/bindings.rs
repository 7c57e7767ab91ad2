//! The screens' types, made from the Rust types that cross to them.

use crate::failure::Failure;
use crate::product;
use crate::step::Step;

/// Fails when the committed types are not those of the Rust code.
pub fn check() -> Result<(), Failure> {
    test().run()
}

/// Writes the types anew; the test that checks them does it when it is asked to.
pub fn write() -> Result<(), Failure> {
    test().env("POTHOOK_WRITE_BINDINGS", "1").run()
}

fn test() -> Step {
    product::whole(&["test", "--lib"], &["bindings"])
}
