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
    names.sort_unstable();
    let count = names.len();
    names.dedup();
    assert_eq!(names.len(), count);
    assert!(names.iter().all(|n| !n.is_empty()));
}

#[test]
fn the_demo_is_proved() {
    for which in ["drive", "return"] {
        let station = demo_station(which);
        let (program, monitors) = (lower(&station), MonitorPlan::new(&station));
        let (plan, raw) = (program.plan().unwrap(), monitors.plan().unwrap());
        let model = Model::new(&station, &program, &plan, &monitors, &raw);
        let mut system = System::new(&model).unwrap();
        let mut checker = super::recheck::Checker::new(&model);
        for i in 0..station.requirements.len() {
            if let Ok(only) = std::env::var("ONLY") && only != format!("{which} {}", station.requirements[i].name.text) { continue; }
            let start = std::time::Instant::now();
            let proof = super::attempt::attempt(&model, &mut system, i);
            let _ = &start; let name = &station.requirements[i].name.text;
            let took = start.elapsed();
            match proof {
                Some(p) => { let t = std::time::Instant::now();
                let claimed = super::recheck::Claimed { requirement: i, depth: p.depth, signals: p.signals.clone(), assumptions: p.assumptions.clone(), lemmas: p.lemmas.clone() };
                println!("  recheck {:?} {:?}", checker.check(&claimed), t.elapsed());
                println!(
                    "{which} {name} proved {:?} lemmas {} of {} cells {} depth {} signals {:?} assume {:?} whole {}",
                    took, p.lemmas.len(), p.offered, p.cells, p.depth, p.signals, p.assumptions, p.whole
                )},
                None => println!("{which} {name} OPEN {:?}", start.elapsed()),
            }
        }
    }
}
