//! What the commands about the work on one trailer share: how a job is named ([`handle`]), what judges ([`judging`]), how the
//! checks stand ([`checks`]), what the work standard shows beside a step ([`advice`]), and what a person is told when a fact
//! was recorded ([`told`]).

pub mod advice;
pub mod handle;
pub mod judging;
pub mod told;
