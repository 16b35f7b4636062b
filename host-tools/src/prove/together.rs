//! Many subjects judged on all cores, and told in their order.

use super::circuit::System;
use super::claim::Subject;
use super::known::Earlier;
use super::model::Model;
use super::recheck::Checker;
use super::verdict::{Judgement, judge, judge_again};
use crate::cores;
use crate::refute::Effort;
use logic_rules::plan::Fault;

/// A subject that is to be judged.
pub struct Wanted {
    /// The subject.
    pub subject: Subject,
    /// After earlier runs: what is known of one, if anything is.
    pub earlier: Option<Option<Earlier>>,
}

/// A judgement, and after earlier runs the digest of what the checker has answered.
pub type Judged = (Judgement, Option<String>);

/// Judges all of them, and hands each on as soon as those before it were.
///
/// # Errors
/// None that a verified plan can cause, and what `each` says, after which nothing more is begun.
pub fn judge_all<E: From<Fault>>(
    model: &Model<'_>,
    wanted: &[Wanted],
    effort: Effort,
    mut each: impl FnMut(Judged) -> Result<(), E>,
) -> Result<(), E> {
    let judge = |solver: &mut _, wanted: &Wanted| one(model, solver, wanted, effort);
    cores::in_order(wanted, cores::count(), || None, judge, |judged| each(judged?))
}

/// Judges one; what looks for proofs and what checks them is made when it is first needed.
fn one<'m>(
    model: &'m Model<'m>,
    solver: &mut Option<(System, Checker<'m>)>,
    wanted: &Wanted,
    effort: Effort,
) -> Result<Judged, Fault> {
    if solver.is_none() {
        *solver = Some((System::new(model)?, Checker::new(model)));
    }
    let Some((system, checker)) = solver else { return Err(Fault::TooMany("cells")) };
    match &wanted.earlier {
        None => judge(model, system, checker, wanted.subject, effort).map(|judgement| (judgement, None)),
        Some(earlier) => judge_again(model, system, checker, wanted.subject, effort, earlier.as_ref()),
    }
}
