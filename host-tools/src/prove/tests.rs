use super::circuit::System;
use super::model::Model;
use crate::lower::lower;
use crate::monitor::MonitorPlan;
use crate::testing::demo_station;

#[test]
fn every_cell_has_its_own_name() {
    let station = demo_station("drive");
    let (program, monitors) = (lower(&station), MonitorPlan::new(&station));
    let (plan, raw) = (program.plan().unwrap(), monitors.plan().unwrap());
    let model = Model::new(&station, &program, &plan, &monitors, &raw);
    let start = std::time::Instant::now();
    let system = System::new(&model).unwrap();
    println!(
        "{} cells, {} bits, {} nodes, {} cuts, {:?}",
        system.cells.len(),
        system.cells.iter().map(|c| c.now.len()).sum::<usize>(),
        system.graph.len(),
        system.graph.cuts.len(),
        start.elapsed()
    );
    let mut names: Vec<&str> = system.cells.iter().map(|c| c.name.as_str()).collect();
    for n in &names { println!("{n}"); }
    names.sort_unstable();
    let count = names.len();
    names.dedup();
    assert_eq!(names.len(), count);
    assert!(names.iter().all(|n| !n.is_empty()));
}
