// SPDX-License-Identifier: Apache-2.0

package search

import "slices"

// graph is directed, its edges in compressed rows: those from a node v lead to
// to[at[v]:at[v+1]]. It is told all edges twice: to be counted and to be added.
type graph struct {
	at, to []int32
	next   []int32 // per node: where its next edge goes
}

func (g *graph) begin(nodes int) { g.at = make([]int32, nodes+1) }

func (g *graph) count(from, _ int32) { g.at[from+1]++ }

// lay makes room for the edges that were counted.
func (g *graph) lay() {
	for v := 1; v < len(g.at); v++ {
		g.at[v] += g.at[v-1]
	}
	g.to, g.next = make([]int32, g.at[len(g.at)-1]), slices.Clone(g.at)
}

func (g *graph) add(from, to int32) {
	g.to[g.next[from]] = to
	g.next[from]++
}

// components numbers the strongly connected parts of the graph (Tarjan
// 1972): for each node the least node of its part.
func (g *graph) components() []int32 {
	n := len(g.at) - 1
	part := make([]int32, n)
	seen := make([]int32, n) // order of discovery, from 1
	low := make([]int32, n)
	at := slices.Clone(g.at) // next edge to follow
	var stack, path []int32
	count := int32(0)
	for i := range part {
		part[i] = -1
	}
	for root := range int32(n) {
		if seen[root] != 0 {
			continue
		}
		path = append(path[:0], root)
		for len(path) > 0 {
			v := path[len(path)-1]
			if seen[v] == 0 {
				count++
				seen[v], low[v] = count, count
				stack = append(stack, v)
			}
			if at[v] < g.at[v+1] {
				w := g.to[at[v]]
				at[v]++
				if seen[w] == 0 {
					path = append(path, w)
				} else if part[w] < 0 {
					low[v] = min(low[v], seen[w])
				}
				continue
			}
			path = path[:len(path)-1]
			if len(path) > 0 {
				up := path[len(path)-1]
				low[up] = min(low[up], low[v])
			}
			if low[v] == seen[v] {
				stack = closePart(stack, v, part)
			}
		}
	}
	return part
}

// closePart takes one finished part off the stack.
func closePart(stack []int32, v int32, part []int32) []int32 {
	from := len(stack) - 1
	for stack[from] != v {
		from--
	}
	least := v
	for _, w := range stack[from:] {
		least = min(least, w)
	}
	for _, w := range stack[from:] {
		part[w] = least
	}
	return stack[:from]
}
