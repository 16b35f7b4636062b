//! Skipping changes nothing: proved.
#![allow(clippy::print_stdout, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
use std::time::Instant;
use cross_tests::proofs::demo;
use cross_tests::generate::case;
use cross_tests::skipping::Scan;
use host_tools::lower::lower;
use host_tools::prove::frames::Answer;

#[test]
fn first_look() {
    let mut stations = vec![demo("drive"), demo("return")];
    stations.extend((0..2).map(|s| case(s).station));
    for station in stations {
        let program = lower(&station);
        let plan = program.plan().expect("plan");
        let start = Instant::now();
        let mut scan = Scan::new(&plan);
        println!("{} ops {} blocks {} nodes {:?}", scan.operations(), scan.blocks().len(), scan.graph().len(), start.elapsed());
        let questions: Vec<_> = (0..scan.blocks().len()).map(|i| scan.without(i)).collect();
        println!("{} nodes {:?}", scan.graph().len(), start.elapsed());
        let answers = scan.ask(&questions.iter().map(|q| vec![q.closed, q.differs]).collect::<Vec<_>>());
        println!("{:?}", start.elapsed());
        for (i, (q, a)) in questions.iter().zip(&answers).enumerate() {
            if *a != Answer::None {
                println!("{i} {a:?} {} {:?}", scan.blocks()[i].site, q.trips);
            }
        }
    }
}
