// SPDX-License-Identifier: Apache-2.0

package capacity

import "math"

// Endless stands for a wait that grows without end: more comes than can be
// done.
const Endless = -1.0

// ErlangC is the chance that an arrival waits when work of so many erlangs
// (arrivals per time times mean time of work) comes at random to servers side
// by side: A. K. Erlang (1917), Solution of some problems in the theory of
// probabilities of significance in automatic telephone exchanges. It is 1 when
// there is more work than servers.
func ErlangC(servers int, load float64) float64 {
	if servers < 1 || load >= float64(servers) {
		return 1
	}
	blocked := 1.0 // Erlang's loss formula by its recursion over servers
	for c := 1; c <= servers; c++ {
		blocked = load * blocked / (float64(c) + load*blocked)
	}
	rho := load / float64(servers)
	return blocked / (1 - rho*(1-blocked))
}

// Process is how long one job keeps a station, changeovers and mixture of jobs
// included: mean in hours, and squared coefficient of variation.
type Process struct {
	Mean float64
	SCV  float64
}

// WithSetups is the process when a changeover of the given mean and squared
// coefficient of variation comes before one job in every so many, at random
// moments: W. J. Hopp and M. L. Spearman, Factory Physics, 3rd ed., section
// 8.4.2.
func (p Process) WithSetups(setup Process, every float64) Process {
	if every <= 0 || setup.Mean <= 0 {
		return p
	}
	mean := p.Mean + setup.Mean/every
	variance := p.SCV*p.Mean*p.Mean + setup.SCV*setup.Mean*setup.Mean/every + (every-1)/(every*every)*setup.Mean*setup.Mean
	return Process{Mean: mean, SCV: variance / (mean * mean)}
}

// WithOutages is the process of a station that breaks down after running for
// up hours in the mean, at random, and is repaired in down hours with the given
// squared coefficient of variation: Factory Physics, 3rd ed., section 8.4.1.
func (p Process) WithOutages(up, down, repairSCV float64) Process {
	if up <= 0 || down <= 0 || p.Mean <= 0 {
		return p
	}
	available := up / (up + down)
	return Process{Mean: p.Mean / available, SCV: p.SCV + (1+repairSCV)*available*(1-available)*down/p.Mean}
}

// Wait is the expected time in the queue of servers side by side that are used
// to the share u, when times between arrivals have the squared coefficient of
// variation arrivals. For one server it is the heavy-traffic approximation of
// J. F. C. Kingman (1961), The single server queue in heavy traffic, Proc.
// Camb. Phil. Soc. 57, exact for M/G/1 (Pollaczek and Khinchine); below
// arrivals 1 with the correction of W. Krämer and M. Langenbach-Belz (1976),
// Approximate formulae for the delay in the queueing system GI/G/1, 8th
// International Teletraffic Congress. For several it scales the exact wait of
// M/M/c (Erlang C) likewise: A. O. Allen (1978), Probability, Statistics and
// Queueing Theory. Titles from memory. Endless when u is 1 or more.
func Wait(arrivals float64, p Process, servers int, u float64) float64 {
	switch {
	case u >= 1:
		return Endless
	case u <= 0 || servers < 1 || p.Mean <= 0:
		return 0
	}
	c := float64(servers)
	exact := ErlangC(servers, u*c) * p.Mean / (c * (1 - u))
	wait := (arrivals + p.SCV) / 2 * exact
	if arrivals < 1 && arrivals+p.SCV > 0 {
		wait *= math.Exp(-2 * (1 - u) / (3 * u) * (1 - arrivals) * (1 - arrivals) / (arrivals + p.SCV))
	}
	return wait
}

// LotWait is the expected wait of one piece before a server to which pieces
// come in lots of a size, as they do from an oven: the wait of the lot, and
// half of its fellows in front. Factory Physics, 3rd ed., section 9.4.
func LotWait(lot float64, p Process, servers int, u float64) float64 {
	lot = max(lot, 1)
	perServer := max(lot/float64(max(servers, 1)), 1)
	wait := Wait(1, Process{Mean: p.Mean * perServer, SCV: p.SCV / perServer}, servers, u)
	if wait == Endless {
		return Endless
	}
	return wait + (perServer-1)/2*p.Mean
}

// LoadWait is the expected wait of one piece before a batch station that runs
// loads of a size: until its load is full, and then in the queue of loads. The
// pieces come singly, rate an hour; p is one load's process. Factory Physics,
// 3rd ed., section 9.4 (parallel batches).
func LoadWait(rate, size float64, p Process, servers int, u float64) (fill, queue float64) {
	size = max(size, 1)
	if rate > 0 {
		fill = (size - 1) / (2 * rate)
	}
	return fill, Wait(1/size, p, servers, u)
}

// CycleWait is the expected wait of one piece, in cycles, before a batch
// station that is loaded once a cycle with whatever waits, up to size pieces,
// when so many come per cycle at random: the bulk queue of N. T. J. Bailey
// (1954), On queueing processes with bulk service, J. Roy. Stat. Soc. B 16. The
// pieces left after a loading are the greatest of a random walk, summed by the
// identity of F. Spitzer (1956), A combinatorial lemma and its application to
// probability theory, Trans. Amer. Math. Soc. 82. Titles from memory.
func CycleWait(perCycle float64, size int) float64 {
	switch {
	case perCycle <= 0 || size < 1:
		return 0
	case perCycle >= float64(size):
		return Endless
	}
	left := 0.0
	for k := 1; k <= 20_000; k++ {
		term := excess(float64(k)*perCycle, k*size) / float64(k)
		left += term
		if term < 1e-10*(1+left) {
			break
		}
	}
	return (left + perCycle/2) / perCycle
}

// excess is the mean of what a Poisson count of the given mean has above most.
func excess(mean float64, most int) float64 {
	sum := 0.0
	lg, _ := math.Lgamma(float64(most + 2))
	p := math.Exp(float64(most+1)*math.Log(mean) - mean - lg)
	for n := most + 1; ; n++ {
		sum += float64(n-most) * p
		p *= mean / float64(n+1)
		if float64(n) > mean && p*float64(n) < 1e-14*(sum+1e-300) || p == 0 {
			return sum
		}
	}
}
