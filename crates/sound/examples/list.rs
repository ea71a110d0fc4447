//! Lists the inputs and outputs that work.

fn main() {
    let devices = sound::devices();
    for (kind, list) in [("input", devices.inputs), ("output", devices.outputs)] {
        for device in list {
            println!("{kind} {device:?}");
        }
    }
}
