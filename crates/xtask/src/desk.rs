//! A hand on an invisible screen: it drops files on a window, and presses its keys and places, as a desktop would.

use std::fmt::Write;
use std::path::Path;
use std::time::{Duration, Instant};

use x11rb::connection::Connection;
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{
    AtomEnum, BUTTON_PRESS_EVENT, BUTTON_RELEASE_EVENT, ClientMessageEvent, ConnectionExt,
    CreateWindowAux, EventMask, InputFocus, KEY_PRESS_EVENT, KEY_RELEASE_EVENT,
    MOTION_NOTIFY_EVENT, MapState, PropMode, SELECTION_NOTIFY_EVENT, SelectionNotifyEvent, Window,
    WindowClass,
};
use x11rb::protocol::xtest::ConnectionExt as _;
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

use crate::shell::Fault;

x11rb::atom_manager! {
    Atoms: AtomsCookie {
        XdndAware,
        XdndEnter,
        XdndPosition,
        XdndStatus,
        XdndDrop,
        XdndFinished,
        XdndSelection,
        XdndActionCopy,
        TEXT_URI_LIST: b"text/uri-list",
    }
}

/// The version of the protocol (freedesktop.org, "Drag-and-Drop Protocol for the X Window System").
const XDND: u32 = 5;
/// A window opens, and answers, within this.
const PATIENCE: Duration = Duration::from_secs(30);
/// Nothing to do: look again after this.
const AGAIN: Duration = Duration::from_millis(20);

/// The hand, and the window that it is used on.
pub(crate) struct Desk {
    connection: RustConnection,
    atoms: Atoms,
    root: Window,
    /// Where files are taken from.
    source: Window,
    target: Window,
}

impl Desk {
    /// Waits for the window on this screen that files can be dropped on, and gives it the keyboard.
    pub(crate) fn at(display: &str) -> Result<Self, Fault> {
        let (connection, screen) = x11rb::connect(Some(display)).map_err(failed)?;
        let atoms = Atoms::new(&connection).map_err(failed)?.reply().map_err(failed)?;
        let root = connection.setup().roots[screen].root;
        let source = connection.generate_id().map_err(failed)?;
        let (class, aux) = (WindowClass::INPUT_ONLY, CreateWindowAux::new());
        connection.create_window(0, source, root, 0, 0, 1, 1, 0, class, 0, &aux).map_err(failed)?;
        let mut desk = Self { connection, atoms, root, source, target: 0 };
        desk.target = desk.until("no window takes files", Self::aware)?;
        let (focus, now) = (InputFocus::PARENT, x11rb::CURRENT_TIME);
        desk.connection.set_input_focus(focus, desk.target, now).map_err(failed)?;
        desk.connection.flush().map_err(failed)?;
        Ok(desk)
    }

    /// Looks again and again until there is something.
    fn until<T>(
        &self,
        or: &str,
        mut look: impl FnMut(&Self) -> Result<Option<T>, Fault>,
    ) -> Result<T, Fault> {
        let begun = Instant::now();
        while begun.elapsed() < PATIENCE {
            if let Some(seen) = look(self)? {
                return Ok(seen);
            }
            std::thread::sleep(AGAIN);
        }
        Err(Fault::Tool(or.to_owned()))
    }

    fn aware(&self) -> Result<Option<Window>, Fault> {
        let tree =
            self.connection.query_tree(self.root).map_err(failed)?.reply().map_err(failed)?;
        for window in tree.children {
            let (aware, any) = (self.atoms.XdndAware, AtomEnum::ANY);
            let asked = self.connection.get_property(false, window, aware, any, 0, 1);
            // It may be gone by now.
            let takes = asked.map_err(failed)?.reply().is_ok_and(|found| found.value_len > 0);
            let about = self.connection.get_window_attributes(window).map_err(failed)?.reply();
            if takes && about.is_ok_and(|about| about.map_state == MapState::VIEWABLE) {
                return Ok(Some(window));
            }
        }
        Ok(None)
    }

    fn tell(&self, kind: u32, data: [u32; 5]) -> Result<(), Fault> {
        let event = ClientMessageEvent::new(32, self.target, kind, data);
        let (to, mask) = (self.target, EventMask::NO_EVENT);
        self.connection.send_event(false, to, mask, event).map_err(failed)?;
        self.connection.flush().map_err(failed)
    }

    /// Drags these files over the window and lets them go; waits until it has taken them.
    pub(crate) fn drop_files(&self, files: &[&Path]) -> Result<(), Fault> {
        let list: String = files.iter().map(|file| uri(file) + "\r\n").collect();
        let (atoms, source, now) = (&self.atoms, self.source, x11rb::CURRENT_TIME);
        self.connection.set_selection_owner(source, atoms.XdndSelection, now).map_err(failed)?;
        self.tell(atoms.XdndEnter, [source, XDND << 24, atoms.TEXT_URI_LIST, 0, 0])?;
        let at = (200 << 16) | 200;
        self.tell(atoms.XdndPosition, [source, 0, at, now, atoms.XdndActionCopy])?;
        let (mut asked, mut status, mut dropped) = (false, false, false);
        self.until("the window does not take what is dropped", |desk| {
            while let Some(event) = desk.connection.poll_for_event().map_err(failed)? {
                match event {
                    Event::SelectionRequest(event) => {
                        let (to, property) = (event.requestor, event.property);
                        let (mode, text) = (PropMode::REPLACE, event.target);
                        let written = list.as_bytes();
                        let change =
                            desk.connection.change_property8(mode, to, property, text, written);
                        change.map_err(failed)?;
                        let answer = SelectionNotifyEvent {
                            response_type: SELECTION_NOTIFY_EVENT,
                            sequence: 0,
                            time: event.time,
                            requestor: to,
                            selection: event.selection,
                            target: text,
                            property,
                        };
                        let none = EventMask::NO_EVENT;
                        desk.connection.send_event(false, to, none, answer).map_err(failed)?;
                        asked = true;
                    }
                    Event::ClientMessage(event) if event.type_ == atoms.XdndStatus => {
                        status = event.data.as_data32()[1] & 1 == 1;
                    }
                    Event::ClientMessage(event) if event.type_ == atoms.XdndFinished => {
                        let taken = event.data.as_data32()[1] & 1 == 1;
                        let refused = "the window refused what was dropped";
                        return if taken {
                            Ok(Some(()))
                        } else {
                            Err(Fault::Tool(refused.to_owned()))
                        };
                    }
                    _ => {}
                }
            }
            if asked && status && !dropped {
                dropped = true;
                desk.tell(atoms.XdndDrop, [source, 0, now, 0, 0])?;
            }
            Ok(None)
        })
    }

    fn fake(&self, kind: u8, detail: u8, at: (i16, i16)) -> Result<(), Fault> {
        let (root, now) = (self.root, x11rb::CURRENT_TIME);
        self.connection.xtest_fake_input(kind, detail, now, root, at.0, at.1, 0).map_err(failed)?;
        self.connection.flush().map_err(failed)
    }

    /// Presses the key that writes this sign of X (its keysym; a letter is its own).
    pub(crate) fn press(&self, sign: u32) -> Result<(), Fault> {
        let setup = self.connection.setup();
        let (first, count) = (setup.min_keycode, setup.max_keycode - setup.min_keycode + 1);
        let asked = self.connection.get_keyboard_mapping(first, count).map_err(failed)?;
        let mapping = asked.reply().map_err(failed)?;
        let mut keys = mapping.keysyms.chunks(usize::from(mapping.keysyms_per_keycode));
        let place = keys.position(|signs| signs.first() == Some(&sign));
        let place = place.and_then(|place| u8::try_from(place).ok());
        let key = place.ok_or_else(|| Fault::Tool(format!("no key writes the sign {sign:#x}")))?;
        for kind in [KEY_PRESS_EVENT, KEY_RELEASE_EVENT] {
            self.fake(kind, first + key, (0, 0))?;
        }
        std::thread::sleep(Duration::from_millis(100));
        Ok(())
    }

    /// Presses the mouse at a place of the window, which lies in the corner of the screen.
    pub(crate) fn click(&self, at: [f64; 2]) -> Result<(), Fault> {
        let at = (at[0] as i16, at[1] as i16);
        self.fake(MOTION_NOTIFY_EVENT, 0, at)?;
        std::thread::sleep(Duration::from_millis(60));
        self.fake(BUTTON_PRESS_EVENT, 1, at)?;
        std::thread::sleep(Duration::from_millis(60));
        self.fake(BUTTON_RELEASE_EVENT, 1, at)
    }
}

fn failed(error: impl std::fmt::Display) -> Fault {
    Fault::Tool(format!("the invisible screen failed: {error}"))
}

/// A file as desktops name it (RFC 8089).
fn uri(file: &Path) -> String {
    let mut uri = "file://".to_owned();
    for &byte in file.as_os_str().as_encoded_bytes() {
        if byte.is_ascii_alphanumeric() || b"/-._~".contains(&byte) {
            uri.push(char::from(byte));
        } else {
            write!(uri, "%{byte:02X}").ok();
        }
    }
    uri
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_with_odd_signs_is_written_as_desktops_do() {
        assert_eq!(uri(Path::new("/a b/ä%.wav")), "file:///a%20b/%C3%A4%25.wav");
    }
}
