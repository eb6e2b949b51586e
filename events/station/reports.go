// SPDX-License-Identifier: Apache-2.0

package station

import (
	"context"

	"towpath/events"
)

// Start reports that an operation of a piece has started here.
func (c *Client) Start(ctx context.Context, d events.OperationData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.OperationStarted, d, o...)
}

// Pause reports that a started operation stands still; Why says the reason.
func (c *Client) Pause(ctx context.Context, d events.OperationData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.OperationPaused, d, o...)
}

// Resume reports that a paused operation goes on.
func (c *Client) Resume(ctx context.Context, d events.OperationData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.OperationResumed, d, o...)
}

// Finish reports that an operation has ended and the piece is free; Started
// may say when it began if nobody reported that.
func (c *Client) Finish(ctx context.Context, d events.OperationData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.OperationFinished, d, o...)
}

// CloseLoad reports which pieces form a load; nothing joins it afterwards.
func (c *Client) CloseLoad(ctx context.Context, d events.LoadData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.LoadClosed, d, o...)
}

// StartLoad reports that a load has started.
func (c *Client) StartLoad(ctx context.Context, d events.LoadData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.LoadStarted, d, o...)
}

// FinishLoad reports that a load is out of the station.
func (c *Client) FinishLoad(ctx context.Context, d events.LoadData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.LoadFinished, d, o...)
}

// MakeMix reports a mix that is ready; its life begins at the report's time.
func (c *Client) MakeMix(ctx context.Context, d events.MixData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.MixMade, d, o...)
}

// DiscardMix reports that what is left of a mix was thrown away.
func (c *Client) DiscardMix(ctx context.Context, d events.MixData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.MixDiscarded, d, o...)
}

// Down reports that the station cannot work; Until says how long, if known.
func (c *Client) Down(ctx context.Context, d events.StationData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.StationDown, d, o...)
}

// Up reports that the station works again.
func (c *Client) Up(ctx context.Context, d events.StationData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.StationUp, d, o...)
}

// TakeToolOut reports that a tool unit is out of use.
func (c *Client) TakeToolOut(ctx context.Context, d events.ToolData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.ToolOut, d, o...)
}

// BringToolIn reports that a tool unit is back in use.
func (c *Client) BringToolIn(ctx context.Context, d events.ToolData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.ToolIn, d, o...)
}

// Absent reports that people of a crew are away.
func (c *Client) Absent(ctx context.Context, d events.AbsentData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.CrewAbsent, d, o...)
}

// Present reports that people of a crew who were away are back.
func (c *Client) Present(ctx context.Context, d events.PresentData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.CrewPresent, d, o...)
}

// Scrap reports that a piece is lost.
func (c *Client) Scrap(ctx context.Context, d events.PieceData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.PieceScrapped, d, o...)
}

// Hold reports that a piece must wait for a decision.
func (c *Client) Hold(ctx context.Context, d events.PieceData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.PieceHeld, d, o...)
}

// Release reports that a held piece may go on.
func (c *Client) Release(ctx context.Context, d events.PieceData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.PieceReleased, d, o...)
}

// HoldBatch reports that everything made from a mix, in a load or from a lot
// must wait for a decision.
func (c *Client) HoldBatch(ctx context.Context, d events.BatchData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.BatchHeld, d, o...)
}

// ReleaseBatch reports that what was held with a mix, a load or a lot may go
// on.
func (c *Client) ReleaseBatch(ctx context.Context, d events.BatchData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.BatchReleased, d, o...)
}

// Record reports a measured result at a gate.
func (c *Client) Record(ctx context.Context, d events.ResultData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.ResultRecorded, d, o...)
}

// Void reports that an earlier event never happened: a wrong button, a wrong
// serial.
func (c *Client) Void(ctx context.Context, d events.VoidData, o ...Option) (Receipt, error) {
	return c.Report(ctx, events.EventVoided, d, o...)
}
