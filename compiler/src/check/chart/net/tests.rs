//! Nets that are worked out by hand.

use super::*;

fn net(steps: usize, transitions: &[(&[usize], &[usize])]) -> Net {
    let arcs = |(from, to): &(&[usize], &[usize])| Arcs { from: from.to_vec(), to: to.to_vec() };
    Net { steps, initial: 0, transitions: transitions.iter().map(arcs).collect(), groups: Vec::new() }
}

#[test]
fn a_sequence_is_safe() {
    let found = examine(&net(3, &[(&[0], &[1]), (&[1], &[2]), (&[2], &[0])]));
    assert!(found.complete && found.unsafe_by.is_none() && found.deadlock.is_none());
    assert!(found.dead_ends.is_empty() && found.dead_steps.is_empty() && found.dead_transitions.is_empty());
}

/// Out of a simultaneous branch without the other one and round again.
#[test]
fn an_unsafe_net_shows_a_shortest_way() {
    let transitions: &[(&[usize], &[usize])] = &[(&[0], &[1, 2]), (&[1], &[3]), (&[3], &[0])];
    let found = examine(&net(4, transitions));
    assert_eq!(found.unsafe_by, Some((vec![0, 1, 2, 0], 2)));
    assert!(found.complete);
}

#[test]
fn what_never_happens_is_found_at_its_root() {
    // Nothing leads to 1, and 2 is behind it; 3 and 4 lead to each other alone.
    let found = examine(&net(5, &[(&[0], &[0]), (&[1], &[2]), (&[2], &[0]), (&[3], &[4]), (&[4], &[3])]));
    assert_eq!(found.dead_steps, [1, 3]);
    assert!(found.dead_transitions.is_empty());
    // 1 and 2 are alternatives, so what waits for both never comes.
    let found = examine(&net(4, &[(&[0], &[1]), (&[0], &[2]), (&[1, 2], &[3]), (&[3], &[0])]));
    assert_eq!(found.dead_transitions, [2]);
    assert!(found.dead_steps.is_empty());
    assert_eq!(found.deadlock, Some((vec![0], vec![1])));
}

#[test]
fn dead_ends_are_no_deadlock() {
    let found = examine(&net(2, &[(&[0], &[1])]));
    assert_eq!(found.dead_ends, [1]);
    assert!(found.deadlock.is_none());
}

#[test]
fn steps_of_a_group_are_found_together() {
    let mut branches = net(4, &[(&[0], &[1, 2]), (&[1, 2], &[3]), (&[3], &[0])]);
    let member = |step, key| Member { step, key };
    branches.groups = vec![
        vec![member(1, 0), member(2, 0)],
        vec![member(1, 0), member(2, 1)],
        vec![member(0, 0), member(3, 1)],
    ];
    let together = examine(&branches).together;
    assert_eq!(together[0], Together { any: Some((1, 2)), different: None });
    assert_eq!(together[1], Together { any: Some((1, 2)), different: Some((1, 2)) });
    assert_eq!(together[2], Together::default());
}

/// Eight branches of nine steps have far more sets than are visited.
#[test]
fn a_net_too_large_to_visit_ends_without_a_claim() {
    let (branches, length) = (8, 9);
    let step = |branch: usize, position: usize| 1 + branch * length + position;
    let mut large = Net { steps: 1 + branches * length, ..Net::default() };
    large.transitions.push(Arcs { from: vec![0], to: (0..branches).map(|b| step(b, 0)).collect() });
    for branch in 0..branches {
        for position in 1..length {
            let arcs = Arcs { from: vec![step(branch, position - 1)], to: vec![step(branch, position)] };
            large.transitions.push(arcs);
        }
    }
    let last = (0..branches).map(|branch| step(branch, length - 1)).collect();
    large.transitions.push(Arcs { from: last, to: vec![0] });
    let found = examine(&large);
    assert!(!found.complete && found.unsafe_by.is_none());
    assert!(found.dead_steps.is_empty() && found.dead_transitions.is_empty());
}

/// A sequence of any length has one active step at a time.
#[test]
fn a_long_sequence_is_examined_to_its_end() {
    let count = 50_000;
    let arcs = |step| Arcs { from: vec![step], to: vec![(step + 1) % count] };
    let long = Net { steps: count, transitions: (0..count).map(arcs).collect(), ..Net::default() };
    let found = examine(&long);
    assert!(found.complete && found.deadlock.is_none());
}
