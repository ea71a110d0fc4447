//! What is drawn in more than one room: these know no room and no application.

pub(crate) mod button_row;
pub(crate) mod form;
pub(crate) mod gauge;
pub(crate) mod list_row;
pub(crate) mod paging;
pub(crate) mod painter;
pub(crate) mod pen;
pub(crate) mod tabs;
pub(crate) mod terms;
