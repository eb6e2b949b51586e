// SPDX-License-Identifier: Apache-2.0

package view

import "towpath/resources"

// OnTop is what was adopted on top of the plant file.
type OnTop struct {
	Sets []OnTopSet `json:"sets" doc:"sets of changes, in the order in which they are made"`
}

// OnTopSet is a set of changes of the plant that was adopted.
type OnTopSet struct {
	Key  string         `json:"key" doc:"tells it apart from the others"`
	Name string         `json:"name" doc:"what it is called"`
	At   resources.Tick `json:"at" doc:"when it was tried"`
	Text string         `json:"text" doc:"its changes of the plant, as a file of changes has them"`
}

// OnTop lists what stands on top of the plant file.
func (v *View) OnTop() OnTop {
	x := OnTop{Sets: []OnTopSet{}}
	if v.Picture.State == nil {
		return x
	}
	for i := range v.Picture.State.Adopted {
		a := &v.Picture.State.Adopted[i]
		x.Sets = append(x.Sets, OnTopSet{Key: a.Key(), Name: a.Name(), At: a.At, Text: a.Text})
	}
	return x
}
