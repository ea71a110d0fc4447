//! The journal seen from outside, in one binary, which is linked once.

mod common;
mod damage;
mod exchange;
mod faults;
mod parcel;
mod takes;
mod tasks;
mod upkeep;
