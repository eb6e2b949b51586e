// SPDX-License-Identifier: Apache-2.0

package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"github.com/labstack/echo/v4"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/capacity"
	"towpath/scheduler/learn"
	"towpath/scheduler/promise"
	"towpath/web/view"
)

// Param is a parameter of an address, for the API document.
type Param struct {
	Name string
	In   string // "query" or "path"
	Doc  string
	Enum []string
}

// Endpoint is one address of the API. The document at /api/openapi.yaml is
// made from this table, and a test holds answers against it.
type Endpoint struct {
	Method  string
	Path    string // as echo writes it
	Summary string
	Params  []Param
	Body    any    // zero value of what is sent; nil: nothing
	Answer  any    // zero value of what is answered
	Media   string // of an answer that is not JSON
	model   func(*Server, echo.Context) (any, error)
	handle  func(*Server, echo.Context) error // instead of model
	early   bool                              // answered while the log is still being read
}

// Endpoints lists the API.
func Endpoints() []Endpoint {
	return []Endpoint{
		{Method: http.MethodGet, Path: "/api/sign", Summary: "Which picture is the latest, and what time it is in the shop", Answer: Sign{}, early: true,
			model: func(s *Server, _ echo.Context) (any, error) { return s.sign(), nil }},
		{Method: http.MethodGet, Path: "/api/floor", Summary: "Each station now and next", Answer: view.Floor{}, model: floorModel},
		{Method: http.MethodGet, Path: "/api/alerts", Summary: "What wants a person now, and who should act by when", Params: []Param{
			{Name: "station", In: "query", Doc: "only those at this station"},
			{Name: "order", In: "query", Doc: "only those about this order or a piece of it"},
		}, Answer: view.AlertList{}, model: alertsModel},
		{Method: http.MethodGet, Path: "/api/dates", Summary: "Orders with due, predicted, slack and why", Params: datesParams(), Answer: view.Dates{}, model: datesModel},
		{Method: http.MethodGet, Path: "/api/dates.ics", Summary: "Orders with a date as a calendar to subscribe to, iCalendar (RFC 5545): an entry when the carrier of each leaves",
			Params: datesParams()[:2], Media: "text/calendar", handle: (*Server).datesFeed},
		{Method: http.MethodGet, Path: "/api/orders/:order", Summary: "One order and why its date is what it is",
			Params: []Param{{Name: "order", In: "path", Doc: "order number"}}, Answer: view.OrderSheet{}, model: orderModel},
		{Method: http.MethodGet, Path: "/api/orders/:order/relaxations", Summary: "What would save a late or lost order, as far as it is solved",
			Params: []Param{{Name: "order", In: "path", Doc: "order number"}}, Answer: view.SavingJob{}, model: savingModel},
		{Method: http.MethodPost, Path: "/api/orders/:order/relaxations", Summary: "Begin to find what would save a late or lost order; one order at a time",
			Params: []Param{{Name: "order", In: "path", Doc: "order number"}}, Answer: view.SavingJob{}, handle: (*Server).startSaving},
		{Method: http.MethodPost, Path: "/api/orders/:order/relaxations/stop", Summary: "Give up looking; what is solved stays",
			Params: []Param{{Name: "order", In: "path", Doc: "order number"}}, Answer: view.SavingJob{}, handle: (*Server).stopSaving},
		{Method: http.MethodGet, Path: "/api/lineup", Summary: "A time axis by station", Params: lineupParams(), Answer: view.Lineup{}, model: lineupModel},
		{Method: http.MethodGet, Path: "/api/loads", Summary: "Who is in which load, when to load and how full", Params: []Param{
			{Name: "station", In: "query", Doc: "only this station"},
			{Name: "all", In: "query", Doc: "1: every batch station, not only those that run cure recipes", Enum: []string{"1"}},
			{Name: "done", In: "query", Doc: "1: loads finished in the last 24 hours too", Enum: []string{"1"}},
		}, Answer: view.Loads{}, model: loadsModel},
		{Method: http.MethodGet, Path: "/api/stations", Summary: "All stations with their condition", Answer: []view.FloorStation{}, model: stationsModel},
		{Method: http.MethodGet, Path: "/api/stations/:station", Summary: "What an operator needs at a station",
			Params: []Param{{Name: "station", In: "path", Doc: "station's ID"}}, Answer: view.StationSheet{}, model: stationModel},
		{Method: http.MethodGet, Path: "/api/tools", Summary: "Every mandrel and fixture: free, on which piece and where, in turnaround, or out", Answer: []view.ToolPool{}, model: toolsModel},
		{Method: http.MethodGet, Path: "/api/people", Summary: "Every crew: who is on shift now and over the next days, and who is reported away", Answer: view.People{}, model: peopleModel},
		{Method: http.MethodGet, Path: "/api/trace", Summary: "What went into a piece; or every piece that a mix, a load or a lot went into", Params: []Param{
			{Name: "q", In: "query", Doc: "serial, mix, load, or MATERIAL/LOT"},
			{Name: "as", In: "query", Doc: "which of these, when it is the name of several", Enum: view.TraceKinds()},
		}, Answer: view.TraceSheet{}, model: traceModel},
		{Method: http.MethodGet, Path: "/api/log", Summary: "What happened lately, newest first", Params: []Param{
			{Name: "show", In: "query", Doc: "filter", Enum: keys(view.LogFilters())},
			{Name: "q", In: "query", Doc: "words that must occur"},
		}, Answer: view.Log{}, model: logModel},
		{Method: http.MethodGet, Path: "/api/plan", Summary: "The published plan, every operation of every open piece", Answer: scheduler.Plan{}, model: planModel},
		{Method: http.MethodGet, Path: "/api/capacity", Summary: "A season's work against the shop's hours, by week", Params: capacityParams(), Answer: capacity.Report{}, model: capacityModel},
		{Method: http.MethodGet, Path: "/api/capacity.csv", Summary: "Its hours by resource and week as CSV", Params: capacityParams(), Media: "text/csv", handle: (*Server).capacityCSV},
		{Method: http.MethodGet, Path: "/api/capacity.xlsx", Summary: "All its tables as a workbook", Params: capacityParams(), Media: "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", handle: (*Server).capacityXLSX},
		{Method: http.MethodGet, Path: "/api/capacity/worth", Summary: "What one more of a thing is worth, as far as it is solved", Answer: view.WorthJob{}, model: worthModel},
		{Method: http.MethodPost, Path: "/api/capacity/worth", Summary: "Begin to solve what one more of each thing is worth", Body: WorthBody{}, Answer: view.WorthJob{}, handle: (*Server).startWorth},
		{Method: http.MethodPost, Path: "/api/capacity/worth/stop", Summary: "Give up solving; what is solved stays", Answer: view.WorthJob{}, handle: (*Server).stopWorth},
		{Method: http.MethodGet, Path: "/api/risk", Summary: "Each order's chance to make its date, as far as the plan has been played forward", Answer: view.RiskJob{}, model: riskModel},
		{Method: http.MethodPost, Path: "/api/risk", Summary: "Begin to play the plan forward under random times, breakdowns, absences and failures", Body: RiskBody{}, Answer: view.RiskJob{}, handle: (*Server).startRisk},
		{Method: http.MethodPost, Path: "/api/risk/stop", Summary: "Give up playing; what is played stays", Answer: view.RiskJob{}, handle: (*Server).stopRisk},
		{Method: http.MethodGet, Path: "/api/learn", Summary: "Times, yields and breakdowns as they were, beside the plant file; nothing is changed", Answer: learn.Report{}, model: learnModel},
		{Method: http.MethodGet, Path: "/api/learn/plant.yaml", Summary: "The plant file with changes that are proposed, to look at; the shop goes on with the one it has", Params: []Param{
			{Name: "take", In: "query", Doc: "about/product/operation/station of a proposal, as often as needed; left out: all of them"},
		}, Media: "application/yaml", handle: (*Server).learnedPlant},
		{Method: http.MethodGet, Path: "/api/plant.yaml", Summary: "The plant file in force; what was adopted on top of it stands behind it as comments", Media: "application/yaml", handle: (*Server).plantFile},
		{Method: http.MethodGet, Path: "/api/plant/adopted", Summary: "Sets of changes that were adopted on top of the plant file", Answer: view.OnTop{}, model: onTopModel},
		{Method: http.MethodPost, Path: "/api/plant/adopted/:set/off", Summary: "Go on without one of them", Params: []Param{
			{Name: "set", In: "path", Doc: "key of the set"},
		}, Body: AdoptBody{}, Answer: view.OnTop{}, handle: (*Server).takeOff},
		{Method: http.MethodGet, Path: "/api/promises", Summary: "What was promised, and what came of it", Answer: promise.Record{}, model: promisesModel},
		{Method: http.MethodPost, Path: "/api/promises/:promise/confirm", Summary: "Make a promise an order with the promised date",
			Params: promiseParams(), Body: CloseBody{}, Answer: ReportAnswer{}, handle: closePromise(events.PromiseConfirmed)},
		{Method: http.MethodPost, Path: "/api/promises/:promise/release", Summary: "Let the capacity of a promise go",
			Params: promiseParams(), Body: CloseBody{}, Answer: ReportAnswer{}, handle: closePromise(events.PromiseReleased)},
		{Method: http.MethodPost, Path: "/api/questions", Summary: "Ask when an order could leave without breaking a promised date; a second look goes on in the background", Body: AskBody{}, Answer: view.Question{}, handle: (*Server).askPromise},
		{Method: http.MethodGet, Path: "/api/questions/:question", Summary: "What is known of an asked date so far", Params: questionParams(), Answer: view.Question{}, model: questionModel},
		{Method: http.MethodPost, Path: "/api/questions/:question/stop", Summary: "Give up the second look; what is known stays", Params: questionParams(), Answer: view.Question{}, handle: (*Server).stopPromise},
		{Method: http.MethodPost, Path: "/api/questions/:question/keep", Summary: "Keep the capacity that an answer takes, for the hold that was asked", Params: questionParams(), Body: KeepBody{}, Answer: KeptPromise{}, handle: (*Server).keepPromise},
		{Method: http.MethodGet, Path: "/api/whatifs", Summary: "Sets of changes that were tried on a copy of the shop", Answer: view.WhatIfList{}, model: whatifsModel},
		{Method: http.MethodPost, Path: "/api/whatifs", Summary: "Try a set of changes on a copy of the shop; it is planned in the background, one set after another, and the shop stays as it is", Body: WhatIfBody{}, Answer: view.WhatIf{}, handle: (*Server).tryWhatIf},
		{Method: http.MethodGet, Path: "/api/whatifs/compare", Summary: "Two sets of changes held against each other, each the shop with its changes", Params: []Param{
			{Name: "a", In: "query", Doc: "ID of the first set"}, {Name: "b", In: "query", Doc: "ID of the second set"},
		}, Answer: view.WhatIfPair{}, model: whatifPairModel},
		{Method: http.MethodGet, Path: "/api/whatifs/:whatif", Summary: "What a set of changes would do, as far as it is known", Params: whatifParams(), Answer: view.WhatIf{}, model: whatifModel},
		{Method: http.MethodGet, Path: "/api/whatifs/:whatif/lineups", Summary: "The line-up with a set of changes beside that of the shop as it is", Params: append(whatifParams(), lineupParams()...), Answer: view.TwoLineups{}, model: whatifLineups},
		{Method: http.MethodPatch, Path: "/api/whatifs/:whatif", Summary: "Call a set of changes something else", Params: whatifParams(), Body: NameBody{}, Answer: view.WhatIf{}, handle: (*Server).renameWhatIf},
		{Method: http.MethodDelete, Path: "/api/whatifs/:whatif", Summary: "Drop a set of changes", Params: whatifParams(), Answer: view.WhatIfList{}, handle: (*Server).dropWhatIf},
		{Method: http.MethodPost, Path: "/api/whatifs/:whatif/stop", Summary: "Give up planning it; the best plans until then are compared", Params: whatifParams(), Answer: view.WhatIf{}, handle: (*Server).stopWhatIf},
		{Method: http.MethodPost, Path: "/api/whatifs/:whatif/adopt", Summary: "Make the changes the shop's own, all or none; refused when the shop has moved on and the comparison no longer holds", Params: whatifParams(), Body: AdoptBody{}, Answer: view.WhatIf{}, handle: (*Server).adoptWhatIf},
		{Method: http.MethodPost, Path: "/api/report", Summary: "Report facts, all believed or none", Body: ReportBody{}, Answer: ReportAnswer{}, handle: (*Server).report},
	}
}

func keys(list []view.Choice) []string {
	out := make([]string, len(list))
	for i, c := range list {
		out[i] = c.Key
	}
	return out
}

func datesShown() []string { return append(keys(view.DatesFilters()), keys(view.DatesCounts())...) }

func datesParams() []Param {
	return []Param{
		{Name: "q", In: "query", Doc: "words that must occur in number, customer, product, note or a serial"},
		{Name: "show", In: "query", Doc: "filter; left out: open", Enum: datesShown()},
		{Name: "sort", In: "query", Doc: "column to sort by; left out: due", Enum: view.DatesSorts()},
		{Name: "down", In: "query", Doc: "1: largest first", Enum: []string{"1"}},
	}
}

func promiseParams() []Param {
	return []Param{{Name: "promise", In: "path", Doc: "number of the promise"}}
}

func whatifParams() []Param {
	return []Param{{Name: "whatif", In: "path", Doc: "ID of the set of changes, as POST /api/whatifs gave it"}}
}

func questionParams() []Param {
	return []Param{{Name: "question", In: "path", Doc: "ID of the question, as POST /api/questions gave it"}}
}

func lineupParams() []Param {
	return []Param{
		{Name: "from", In: "query", Doc: "left end of the axis, RFC 3339; left out: shortly before now"},
		{Name: "zoom", In: "query", Doc: "length of the axis; left out: day", Enum: keys(view.Zooms())},
		{Name: "order", In: "query", Doc: "mark the pieces of this order"},
		{Name: "kind", In: "query", Doc: "only stations of this kind"},
	}
}

func capacityParams() []Param {
	return []Param{{Name: "weeks", In: "query", Doc: "weeks to look at, 1 to 52; left out: as far as orders and forecast reach"}}
}

// routes registers pages, API, assets and the live stream.
func (s *Server) routes() {
	e := s.echo
	e.GET("/", func(c echo.Context) error { return c.Redirect(http.StatusFound, "/floor") })
	e.GET("/assets/:mark/:name", s.asset)
	e.GET("/live", s.live)
	e.GET("/api/openapi.yaml", func(c echo.Context) error { return c.Blob(http.StatusOK, "application/yaml", openAPI) })
	for _, p := range Endpoints() {
		h := s.answer(p.model)
		if p.handle != nil {
			h = func(c echo.Context) error { return p.handle(s, c) }
		}
		if !p.early {
			h = s.started(h)
		}
		e.Add(p.Method, p.Path, h)
	}
	s.pageRoute("/floor", "floor", "floor", "Floor", floorModel)
	s.pageRoute("/alerts", "alerts", "alerts", "Alerts", alertsModel)
	s.pageRoute("/dates", "dates", "dates", "Dates", datesModel)
	s.pageRoute("/orders/:order", "order", "dates", "Order", orderPage)
	s.pageRoute("/lineup", "lineup", "lineup", "Line-up", lineupModel)
	s.pageRoute("/loads", "loads", "loads", "Loads", loadsModel)
	s.pageRoute("/promise", "promise", "promise", "Promise", promisePage)
	s.pageRoute("/whatif", "whatif", "whatif", "What if", whatifPage)
	s.pageRoute("/whatif/compare", "whatifpair", "whatif", "What if", whatifPairPage)
	s.pageRoute("/whatif/:whatif", "whatiftried", "whatif", "What if", whatifTriedPage)
	s.pageRoute("/risk", "risk", "risk", "Risk", riskPage)
	s.pageRoute("/learn", "learn", "risk", "Learned", learnPage)
	s.pageRoute("/capacity", "capacity", "capacity", "Capacity", capacityPage)
	s.pageRoute("/stations", "stations", "stations", "Stations", stationsModel)
	s.pageRoute("/station/:station", "station", "stations", "Station", stationModel)
	s.pageRoute("/tools", "tools", "stations", "Tools", toolsModel)
	s.pageRoute("/people", "people", "people", "People", peopleModel)
	s.pageRoute("/trace", "trace", "trace", "Trace", traceModel)
	s.pageRoute("/log", "log", "log", "Log", logModel)
	s.pageRoute("/help", "help", "help", "Help", func(*Server, echo.Context) (any, error) {
		return struct {
			Words     []view.Word
			Deference string
		}{view.Words(), view.Deference}, nil
	})
}

// started refuses while the log is still being read: until then there is no
// state, and an empty answer would be taken for an empty shop.
func (s *Server) started(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		if v := s.view(); v.Picture.Starting {
			return fault(http.StatusServiceUnavailable, "starting", v.Empty(), "Ask again in a moment.")
		}
		return next(c)
	}
}

// answer makes a handler that writes a model as JSON.
func (s *Server) answer(model func(*Server, echo.Context) (any, error)) echo.HandlerFunc {
	return func(c echo.Context) error {
		m, err := model(s, c)
		if err != nil {
			return err
		}
		c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
		return c.JSON(http.StatusOK, m)
	}
}

// pageRoute shows a model as a page. In an empty shop only the reason is
// shown, as most models need a plant.
func (s *Server) pageRoute(path, name, nav, title string, model func(*Server, echo.Context) (any, error)) {
	s.echo.GET(path, func(c echo.Context) error {
		if s.view().Empty() != "" && name != "help" {
			return s.page(c, http.StatusOK, name, title, nav, nil)
		}
		m, err := model(s, c)
		if err != nil {
			return err
		}
		if id := part(c, "order") + part(c, "station"); id != "" {
			return s.page(c, http.StatusOK, name, title+" "+id, nav, m)
		}
		return s.page(c, http.StatusOK, name, title, nav, m)
	})
}

// part is a name in the path. The router matches the escaped path when there
// is one, so that a name may hold a slash, and then leaves the name escaped.
func part(c echo.Context, name string) string {
	value := c.Param(name)
	if c.Request().URL.RawPath != "" {
		if plain, err := url.PathUnescape(value); err == nil {
			return plain
		}
	}
	return value
}

func floorModel(s *Server, _ echo.Context) (any, error) { return s.view().Floor(), nil }

func alertsModel(s *Server, c echo.Context) (any, error) {
	return s.view().Alerts(view.AlertsQuery{Station: c.QueryParam("station"), Order: c.QueryParam("order")}), nil
}

func stationsModel(s *Server, _ echo.Context) (any, error) { return s.view().Stations(), nil }

func datesModel(s *Server, c echo.Context) (any, error) {
	q, err := datesQuery(c)
	if err != nil {
		return nil, err
	}
	return s.view().Dates(q), nil
}

func datesQuery(c echo.Context) (view.DatesQuery, error) {
	q := view.DatesQuery{Text: c.QueryParam("q"), Show: c.QueryParam("show"), Sort: c.QueryParam("sort"), Down: c.QueryParam("down") == "1"}
	if err := oneOf("show", q.Show, datesShown()); err != nil {
		return q, err
	}
	return q, oneOf("sort", q.Sort, view.DatesSorts())
}

func orderModel(s *Server, c echo.Context) (any, error) {
	if m := s.view().OrderSheet(part(c, "order")); m != nil {
		return *m, nil
	}
	return nil, fault(http.StatusNotFound, "not_found", "There is no order "+strconv.Quote(part(c, "order"))+".", "Look for it on the dates page.")
}

func lineupModel(s *Server, c echo.Context) (any, error) {
	q, err := lineupQuery(c)
	if err != nil {
		return nil, err
	}
	return s.view().Lineup(q), nil
}

func lineupQuery(c echo.Context) (view.LineupQuery, error) {
	q := view.LineupQuery{Zoom: c.QueryParam("zoom"), Order: c.QueryParam("order"), Kind: c.QueryParam("kind")}
	if err := oneOf("zoom", q.Zoom, keys(view.Zooms())); err != nil {
		return q, err
	}
	if from := c.QueryParam("from"); from != "" {
		at, err := resources.TickOf(from)
		if err != nil || at < 0 || at > 7258118399 {
			return q, fault(http.StatusBadRequest, "bad_request", "from is not an instant.", "Write it as 2026-03-02T06:00:00Z.")
		}
		q.From = at
	}
	return q, nil
}

func loadsModel(s *Server, c echo.Context) (any, error) {
	q := view.LoadsQuery{Station: c.QueryParam("station"), Cure: c.QueryParam("all") != "1", Done: c.QueryParam("done") == "1"}
	return s.view().Loads(q), nil
}

func stationModel(s *Server, c echo.Context) (any, error) {
	if m := s.view().StationSheet(part(c, "station")); m != nil {
		return *m, nil
	}
	return nil, fault(http.StatusNotFound, "not_found", "There is no station "+strconv.Quote(part(c, "station"))+".", "Pick one from the list of stations.")
}

func toolsModel(s *Server, _ echo.Context) (any, error) { return s.view().Tools(), nil }

func peopleModel(s *Server, _ echo.Context) (any, error) { return s.view().People(), nil }

func traceModel(s *Server, c echo.Context) (any, error) {
	as := c.QueryParam("as")
	if err := oneOf("as", as, view.TraceKinds()); err != nil {
		return nil, err
	}
	return s.view().TraceSheet(c.QueryParam("q"), as), nil
}

func logModel(s *Server, c echo.Context) (any, error) {
	q := view.LogQuery{Show: c.QueryParam("show"), Text: c.QueryParam("q")}
	if err := oneOf("show", q.Show, keys(view.LogFilters())); err != nil {
		return nil, err
	}
	return s.view().Log(q), nil
}

func planModel(s *Server, _ echo.Context) (any, error) {
	if p := s.shop.Picture().Plan; p != nil {
		return *p, nil
	}
	return nil, fault(http.StatusNotFound, "not_found", "There is no plan yet.", "Wait until the first one is published.")
}

// oneOf refuses a parameter that is none of the words it takes; empty is its
// default.
func oneOf(name, value string, allowed []string) error {
	if value == "" || slices.Contains(allowed, value) {
		return nil
	}
	text := ""
	for i, a := range allowed {
		if i > 0 {
			text += ", "
		}
		text += a
	}
	return fault(http.StatusBadRequest, "bad_request", name+" is "+strconv.Quote(value)+", which it cannot be.", "It is one of: "+text+".")
}
