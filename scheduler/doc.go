// SPDX-License-Identifier: Apache-2.0

// Package scheduler is the computation: what is true on the floor, what could
// be done next, and whether a plan for it is right. It is pure.
//
// Pure means that a result depends on the arguments alone. The package reads no
// clock (instants are arguments), draws no random numbers of its own, starts no
// goroutine, opens no file and writes no log; what it has to say about its own
// work it returns as Notes. The same events give the same state, the same
// problem, seed and number of iterations the same plan, byte for byte. A test
// reads the imports to keep it so. The package is safe where its values are not
// shared: a State belongs to one goroutine at a time, and Clone gives another
// goroutine its own for little.
//
// # From facts to state
//
// State is the fold of all events. Apply takes one, checks it wholly and then
// changes the state, or answers with a Refusal and changes nothing. What may
// follow what is in the tables of Lifecycles, drawn in LIFECYCLES.md. Fold makes
// the state of a whole log, in which voided events never happened. Hash tells
// whether two states are equal. TakeChanged, EncodeEntity and LoadEntities let
// a store follow the state entity by entity. StateOf is the state of files,
// before anything happened. A Watch finds what wants a person now, Reactions says
// what planning does about each kind of fact; both are in REACTIONS.md.
//
// # From state to plan
//
// Compile lays a state out as a Problem, flat arrays that a search reads.
// Package search makes a Plan of it. Check derives every rule anew from state
// and plan, sharing no code with the way the plan was made; what it finds wrong
// is never published. Commit checks a proposal against the state as it is by
// then and makes the event that publishes it: search advises, the log decides.
// Measure says in numbers what a plan is worth, Explain why a date is what it
// is. PLANFILE.md describes a plan as a file.
//
// # Around it
//
//	scheduler/search     construction and improvement of plans; pure
//	scheduler/promise    when an asked order could leave without breaking a date; pure
//	scheduler/simulate   a shop that does not exist, for demo and tests; pure
//	scheduler/runner     clock, goroutines and the order of input and output
//	scheduler/boltstore  the projection in a bbolt file
//	scheduler/checks     tests against published values
//	scheduler/schedtest  help for tests
//
// Imports point one way: scheduler knows events and resources, and neither the
// packages below it nor those above.
package scheduler
