//! The pictures of the README, drawn from the demo session.

use std::path::Path;

use crate::packages;
use crate::shell::{Fault, Step, built, root};

/// Where they are kept.
const PICTURES: &str = "assets/pictures";

/// Draws them anew.
pub(crate) fn run() -> Result<(), Fault> {
    packages::install(&[packages::BUILD, packages::DRAW])?;
    Step::new(built("examples/pictures")?).run()?;
    let folder: &Path = PICTURES.as_ref();
    println!("pictures of the README: {}", root().join(folder).display());
    Ok(())
}
