//! Many things worked on at once, and their results handed on in order.

use std::collections::BTreeMap;
use std::num::NonZero;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::channel;
use std::thread;

/// Cores of this machine.
pub fn count() -> usize {
    thread::available_parallelism().map_or(1, NonZero::get)
}

/// Works on all items, on so many threads at once, and hands each result on as soon as those before it were. `start` makes what a
/// thread keeps from item to item.
///
/// # Errors
/// What `each` says; after that no item is begun.
pub fn in_order<T: Sync, S, R: Send, E>(
    items: &[T],
    threads: usize,
    start: impl Fn() -> S + Sync,
    work: impl Fn(&mut S, &T) -> R + Sync,
    mut each: impl FnMut(R) -> Result<(), E>,
) -> Result<(), E> {
    let (next, (done, results)) = (AtomicUsize::new(0), channel());
    let (next, start, work) = (&next, &start, &work);
    thread::scope(|scope| {
        for _ in 0..threads.clamp(1, items.len().max(1)) {
            let done = done.clone();
            scope.spawn(move || {
                let mut kept = start();
                loop {
                    let place = next.fetch_add(1, Ordering::Relaxed);
                    let Some(item) = items.get(place) else { return };
                    // Nobody listens any longer once a result was refused.
                    if done.send((place, work(&mut kept, item))).is_err() {
                        return;
                    }
                }
            });
        }
        drop(done);
        let (mut waiting, mut told) = (BTreeMap::new(), 0);
        for (place, result) in results {
            waiting.insert(place, result);
            while let Some(result) = waiting.remove(&told) {
                told += 1;
                if let Err(refused) = each(result) {
                    next.store(items.len(), Ordering::Relaxed);
                    return Err(refused);
                }
            }
        }
        Ok(())
    })
}

/// Does something that is apart from all else. A panic in it, which is a fault of this program, ends nothing but that.
///
/// # Errors
/// What the panic said.
pub fn apart<R>(work: impl FnOnce() -> R) -> Result<R, String> {
    // What was being worked on is gone with the panic, and nobody else sees it half done.
    catch_unwind(AssertUnwindSafe(work)).map_err(|said| {
        let said = said
            .downcast::<String>()
            .map(|said| *said)
            .or_else(|said| said.downcast::<&str>().map(|said| (*said).to_owned()));
        said.unwrap_or_else(|_| "it did not say why".to_owned())
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn a_panic_ends_its_own_work_alone() {
        let broken = |none: &[u8]| apart(|| none[0]);
        assert!(broken(&[]).unwrap_err().contains("out of bounds"));
        let mut told = Vec::new();
        let work = |(): &mut (), item: &u64| apart(|| 12 / *item);
        in_order(
            &[3, 0, 4],
            2,
            || (),
            work,
            |done| {
                told.push(done.ok());
                Ok::<(), ()>(())
            },
        )
        .unwrap();
        assert_eq!(told, [Some(4), None, Some(3)]);
    }

    #[test]
    fn results_come_in_order_and_a_refusal_ends_it() {
        let items: Vec<u64> = (0..20).rev().collect();
        // The last are done first.
        let work = |(): &mut (), item: &u64| {
            thread::sleep(Duration::from_millis(*item));
            *item
        };
        let mut seen = Vec::new();
        let whole = in_order(
            &items,
            4,
            || (),
            work,
            |item| {
                seen.push(item);
                Ok::<(), u64>(())
            },
        );
        assert_eq!((whole, &seen), (Ok(()), &items));
        let begun = AtomicUsize::new(0);
        let count = |(): &mut (), item: &u64| {
            begun.fetch_add(1, Ordering::Relaxed);
            work(&mut (), item)
        };
        assert_eq!(in_order(&items, 2, || (), count, Err), Err(19));
        assert!(begun.into_inner() < items.len());
        assert_eq!(in_order(&items[..0], 2, || (), work, Err), Ok(()));
    }
}
