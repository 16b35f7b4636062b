//! Is every requirement of the demo asked in some history, and is it told where one cannot be, or where an assumption
//! leaves no lift that runs?
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use std::time::Instant;

use cross_tests::planted::station;
use host_tools::witness::witnesses;

#[test]
fn each_requirement_of_the_demo_is_asked() {
    for kind in ["drive", "return"] {
        let station = station(kind, &[]);
        let all: Vec<usize> = (0..station.requirements.len()).collect();
        let start = Instant::now();
        let found = witnesses(&station, &all).unwrap();
        let took = start.elapsed();
        println!("{kind}: {took:?}");
        for (requirement, witness) in all.iter().map(|i| &station.requirements[*i]).zip(&found) {
            let said = witness.as_ref().map(|w| w.asked.words(&station));
            println!("{kind} {}: {said:?}", requirement.name.text);
        }
    }
}
