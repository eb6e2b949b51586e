// SPDX-License-Identifier: Apache-2.0

package events

import "strings"

// typePrefix makes a CloudEvents type of a kind: "towpath.operation.started".
// A kind whose payload changes incompatibly gets a new name, never a new
// meaning.
const typePrefix = Root + "."

// word is what the vocabulary says of one kind.
type word struct {
	kind    Kind
	data    any  // zero payload
	station byte // '!' a station must report it, '?' may, ' ' none
	check   func(*faults, Event)
}

// vocabulary lists every kind; new ones come last.
var vocabulary = []word{
	{PlantDeclared, PlantData{}, ' ', checkPlant},
	{OrderAdded, OrderData{}, ' ', checkOrder},
	{OrderChanged, OrderData{}, ' ', checkOrder},
	{OrderCancelled, CancelData{}, ' ', checkCancel},
	{OperationStarted, OperationData{}, '!', checkOperation},
	{OperationPaused, OperationData{}, '!', checkOperation},
	{OperationResumed, OperationData{}, '!', checkOperation},
	{OperationFinished, OperationData{}, '!', checkOperation},
	{LoadClosed, LoadData{}, '!', checkLoad},
	{LoadStarted, LoadData{}, '!', checkLoad},
	{LoadFinished, LoadData{}, '!', checkLoad},
	{MixMade, MixData{}, '!', checkMix},
	{MixDiscarded, MixData{}, '!', checkMix},
	{StationDown, StationData{}, '!', checkStation},
	{StationUp, StationData{}, '!', checkStation},
	{ToolOut, ToolData{}, '?', checkTool},
	{ToolIn, ToolData{}, '?', checkTool},
	{PieceScrapped, PieceData{}, '?', checkPiece},
	{PieceHeld, PieceData{}, '?', checkPiece},
	{PieceReleased, PieceData{}, '?', checkPiece},
	{BatchHeld, BatchData{}, '?', checkBatch},
	{BatchReleased, BatchData{}, '?', checkBatch},
	{ResultRecorded, ResultData{}, '?', checkResult},
	{PlanPublished, PlanData{}, ' ', checkPlan},
	{EventVoided, VoidData{}, '?', checkVoid},
	{PromiseReserved, ReserveData{}, ' ', checkReserve},
	{PromiseConfirmed, PromiseData{}, ' ', checkPromise},
	{PromiseReleased, PromiseData{}, ' ', checkPromise},
	{PromiseExpired, PromiseData{}, ' ', checkPromise},
	{CrewAbsent, AbsentData{}, '?', checkAbsent},
	{CrewPresent, PresentData{}, '?', checkPresent},
}

// Kinds lists the vocabulary in its order.
func Kinds() []Kind {
	all := make([]Kind, len(vocabulary))
	for i, w := range vocabulary {
		all[i] = w.kind
	}
	return all
}

// Payload is the zero value of the payload type of k; nil for a kind this
// vocabulary does not have.
func Payload(k Kind) any {
	if w := wordOf(k); w != nil {
		return w.data
	}
	return nil
}

// Type is the CloudEvents attribute type of k.
func Type(k Kind) string { return typePrefix + string(k) }

func wordOf(k Kind) *word {
	for i := range vocabulary {
		if vocabulary[i].kind == k {
			return &vocabulary[i]
		}
	}
	return nil
}

// typeList is every type, for error texts.
var typeList = func() string {
	names := make([]string, len(vocabulary))
	for i, w := range vocabulary {
		names[i] = Type(w.kind)
	}
	return strings.Join(names, ", ")
}()
