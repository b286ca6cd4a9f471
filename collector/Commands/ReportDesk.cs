using System.Globalization;
using System.Runtime.CompilerServices;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Tonight;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Live;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Building;
using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Commands;

/// <summary>Turns a snapshot of the master data into what the commands and the page show.</summary>
/// <param name="schedule">What boards were to do, of every collector whose results are here.</param>
internal sealed class ReportDesk(Func<IReadOnlyList<ScheduledEntry>> schedule)
{
    /// <summary>Most nights a message names.</summary>
    private const int NightsNamed = 14;

    private readonly Lock _gate = new();

    /// <summary>What was made of a snapshot, as long as somebody keeps that: page, `status` and report ask for the same.</summary>
    private readonly ConditionalWeakTable<MasterData, Told> _told = [];

    /// <summary>The last analysis: what did not change since is taken over from it.</summary>
    private AnalysisResult? _previous;

    /// <param name="data">The snapshot.</param>
    /// <param name="request">What is asked for.</param>
    /// <param name="isServed">True where a person follows its links at the collector.</param>
    /// <exception cref="CommandException">No such format, profile or card.</exception>
    internal ReadyReport Render(MasterData data, V1.ReportRequest request, bool isServed = false)
    {
        if (!ReadyReport.Formats.Contains(request.Format) && request.ExplainTag.Length == 0)
        {
            throw new CommandException($"There is no rendering \"{request.Format}\"; use {string.Join(", ", ReadyReport.Formats)}.", 2);
        }

        if (request.Night.Length > 0)
        {
            return NamedNight(data, request);
        }

        AnalysisResult analysis = Analyse(data, request);
        if (request.ExplainTag.Length > 0)
        {
            return ReadyReport.Of(ExplainedText.Of(data, analysis, request.ExplainTag));
        }

        if (request is { AllCards: true, ReturnShop.Length: 0, Cards.Count: 0 })
        {
            ReportNight night = Night(data, analysis, PlannedRuns.Of(schedule(), data));
            return ReadyReport.Of(Model(data, analysis, night, allCards: true), request.Format, isServed);
        }

        ReportModel report = Model(data, analysis);
        if (request.ReturnShop.Length > 0)
        {
            return ReadyReport.Of(ReturnLetter.Render(report, request.ReturnShop, request.Format == "markdown") ?? throw NothingToReturn(report, request.ReturnShop));
        }

        if (request.Cards.Count == 0)
        {
            return ReadyReport.Of(report, request.Format, isServed);
        }

        if (request.Format != "terminal")
        {
            throw new CommandException($"A card's own page is text; --format {request.Format} is the whole report. Leave out the card, or the format.", 2);
        }

        IReadOnlyList<ReportCard> cards = Whole(data, analysis, Named(report, request.Cards));
        return ReadyReport.Of(TerminalCards.Render(report, cards, CardComparisons.Of(analysis, cards)));
    }

    /// <summary>The page of a card; null when there is no such card.</summary>
    internal string? CardPage(MasterData data, string name)
    {
        AnalysisResult analysis = Analyse(data, new V1.ReportRequest());
        ReportModel report = Model(data, analysis);
        return Named(report, name) is { } card ? HtmlReport.Card(report, Whole(data, analysis, [card])[0]) : null;
    }

    private static ReportCard? Named(ReportModel report, string name) =>
        report.Cards.FirstOrDefault(c => c.Tag == name) ?? report.Cards.FirstOrDefault(c => c.Title == name || c.Identity == name);

    private static IReadOnlyList<ReportCard> Whole(MasterData data, AnalysisResult analysis, IReadOnlyList<ReportCard> cards) =>
        cards.Any(c => c.IsShort) ? ReportBuilder.Whole(data, analysis, CardStandings.Of(data, analysis), cards.Select(c => c.Name)) : cards;

    /// <exception cref="CommandException">There is no such card.</exception>
    private static IReadOnlyList<ReportCard> Named(ReportModel report, IEnumerable<string> names) =>
    [
        .. names.Select(name => Named(report, name)
            ?? throw new CommandException($"There is no card \"{name}\"; see `cards`.", 2)),
    ];

    private static CommandException NothingToReturn(ReportModel report, string shop)
    {
        static string Quoted(IEnumerable<string> shops) => string.Join(", ", shops.Select(s => $"\"{s}\""));
        string[] known = [.. ReturnLetter.KnownShops(report)], shops = [.. ReturnLetter.Shops(report)];
        if (!known.Contains(shop))
        {
            return new CommandException(
                known.Length == 0
                    ? "No claim says where a card was bought; `claim TAG --bought-at SHOP` does."
                    : $"No card was bought at \"{shop}\"; the shops there are: {Quoted(known)}.", 2);
        }

        return new CommandException(
            $"There is no letter to \"{shop}\": nothing shows that a card it sold is not as claimed.{(shops.Length == 0 ? "" : $" There are letters to {Quoted(shops)}.")}", 1);
    }

    /// <exception cref="CommandException">That is no night, nothing was measured in it, or something is asked that is not of one night.</exception>
    private ReadyReport NamedNight(MasterData data, V1.ReportRequest request)
    {
        if (!DateOnly.TryParseExact(request.Night, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out DateOnly night))
        {
            throw new CommandException($"--night \"{request.Night}\": a night runs from noon to noon UTC and is named by the day it begins, for example 2031-03-12.", 2);
        }

        if (request.ExplainTag.Length > 0)
        {
            throw new CommandException("--explain speaks of everything that was measured; leave out --night.", 2);
        }

        return RenderNight(data, request, night) ?? throw new CommandException(
            $"Nothing was measured in the night of {request.Night}. {NightsThereAre(data)}", 1);
    }

    private static string NightsThereAre(MasterData data)
    {
        string[] nights = [.. data.Runs.Select(NightClock.NightOf).Distinct().OrderDescending().Select(n => n.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture))];
        string earlier = nights.Length > NightsNamed ? string.Create(CultureInfo.InvariantCulture, $" and {nights.Length - NightsNamed} before") : "";
        return nights.Length == 0 ? "No night has been measured yet." : $"The nights there are: {string.Join(", ", nights.Take(NightsNamed))}{earlier}.";
    }

    /// <summary>
    /// The report as things stood when a night was over: what came in later, and what was claimed later, is left out; so are the delivery
    /// counts when there are later nights. Null when nothing was measured in it.
    /// </summary>
    /// <exception cref="CommandException">No such format or profile.</exception>
    internal ReadyReport? RenderNight(MasterData data, V1.ReportRequest request, DateOnly night) =>
        NightModel(data, request, night) is { } model ? ReadyReport.Of(model, request.Format) : null;

    /// <inheritdoc cref="RenderNight"/>
    internal ReportModel? NightModel(MasterData data, V1.ReportRequest request, DateOnly night)
    {
        if (data.Runs.All(r => NightClock.NightOf(r) != night))
        {
            return null;
        }

        bool isPast = data.Runs.Any(r => NightClock.NightOf(r) > night);
        DateTimeOffset over = Trials.Night.BeginOf(night.AddDays(1));
        MasterData then = Before(data, night.AddDays(1)) with
        {
            AsOf = data.AsOf < over ? data.AsOf : over,
            Integrity = isPast ? data.Integrity with { Received = 0, Gaps = 0, Conflicts = 0 } : data.Integrity, // what the log lost may have been of that night
            IntakeFindings = isPast ? [] : data.IntakeFindings,
        };
        AnalysisResult analysis = Analyser.Run(then, ProfileOf(request), new AnalysisOptions { WithAll = request.WithAll, CapacitySettled = SettledCapacities.Of(then) });
        ReportNight of = WithPlanned(new ReportNight(night, night) { IsPast = isPast }, PlannedRuns.Of(schedule(), then));
        return Model(then, analysis, of, request.AllCards);
    }

    /// <summary>The report as things stand, and the night it speaks of.</summary>
    internal (ReportModel Report, DateOnly Night) Latest(MasterData data)
    {
        AnalysisResult analysis = Analyse(data, new V1.ReportRequest());
        return (Model(data, analysis), Night(data, analysis, PlannedRuns.Of(schedule(), data)).Last);
    }

    /// <summary>What the live page says of the data.</summary>
    internal LiveState Live(MasterData data) => LiveData.Read(data, Model(data, Analyse(data, new V1.ReportRequest())));

    /// <summary>Every card: those measured or claimed as the analysis orders them, then by sticker those that were only taken in.</summary>
    /// <param name="onMedia">Stickers that a card in a slot was given, and its identity.</param>
    internal V1.CardList Cards(MasterData data, IReadOnlyList<(string Tag, string Identity)> onMedia)
    {
        AnalysisResult analysis = Analyse(data, new V1.ReportRequest());
        IReadOnlyDictionary<string, CardStanding> standings = CardStandings.Of(data, analysis);
        string notProven = new Verdict(VerdictKind.NotProven, []).Words;
        ILookup<string, string> taken = onMedia.Where(m => m.Identity.Length > 0).ToLookup(m => m.Tag, m => m.Identity, StringComparer.Ordinal);
        var list = new V1.CardList();
        foreach (CardResult card in analysis.Cards)
        {
            SeenIdentity? identity = card.Identities.Count > 0 ? card.Identities[^1] : null;
            var row = new V1.Card
            {
                Tag = card.Tag ?? "",
                Identity = identity?.Text ?? taken[card.Tag ?? ""].FirstOrDefault(""),
                IdentityFromRegisters = identity?.FromRegisters ?? taken[card.Tag ?? ""].Any(),
                Verdict = standings.GetValueOrDefault(card.Name)?.Verdict.Words ?? notProven,
                Runs = (uint)card.Runs.Count,
                Trials = (uint)card.Metrics.Sum(m => m.N),
                Claim = ClaimLine(card.Claim),
                Reference = card.Claim?.IsReference == true,
            };
            row.Boards.AddRange(card.Runs.Select(r => r.Board).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal));
            list.Cards.Add(row);
        }

        list.Cards.AddRange(onMedia.ExceptBy(list.Cards.Select(c => c.Tag), m => m.Tag, StringComparer.Ordinal).OrderBy(m => m.Tag, StringComparer.Ordinal).Select(m => new V1.Card
        {
            Tag = m.Tag,
            Identity = m.Identity,
            IdentityFromRegisters = m.Identity.Length > 0,
            Verdict = notProven,
        }));
        return list;
    }

    /// <summary>Whether the figures of a board may be trusted.</summary>
    /// <exception cref="CommandException">There is no such board.</exception>
    internal V1.BoardChecked Check(MasterData data, string board)
    {
        if (data.Boards.All(b => b.Name != board))
        {
            throw new CommandException($"There is no board \"{Show.Clean(board)}\" from which anything came; see `boards`.", 2);
        }

        IReadOnlyList<BoardCheckLine> lines = BoardCheck.Of(data, Analyse(data, new V1.ReportRequest()), board);
        return new V1.BoardChecked
        {
            Board = board,
            SpeaksAgainst = lines.Any(l => l.Word == BoardCheckWord.SpeaksAgainst),
            Looks = { lines.Select(l => new V1.BoardLook { What = l.What, Word = BoardsCommand.WordOf(l.Word), Text = l.Text, Settles = l.Settles }) },
        };
    }

    internal IReadOnlyList<string> NeedsPerson(MasterData data) =>
        [.. Model(data, Analyse(data, new V1.ReportRequest())).NeedsPerson.Select(n => $"{n.Subject}: {n.Text} {n.Do}".Trim())];

    /// <summary>The report of master data that no collector holds, such as those of a publication. It knows no schedule.</summary>
    internal static ReportModel Model(MasterData data, UseProfile profile)
    {
        AnalysisResult analysis = Analyser.Run(data, profile, new AnalysisOptions { CapacitySettled = SettledCapacities.Of(data) });
        ReportModel model = Model(data, analysis, ReportNight.Latest(analysis), allCards: true);
        return model with { Cards = [.. model.Cards] }; // whoever publishes goes through them many times
    }

    private ReportModel Model(MasterData data, AnalysisResult analysis)
    {
        IReadOnlyList<(DateOnly Night, bool Open, PlannedRun Run)> planned = PlannedRuns.Of(schedule(), data);
        if (!_told.TryGetValue(data, out Told? told) || told.Analysis != analysis)
        {
            return Model(data, analysis, Night(data, analysis, planned));
        }

        lock (told)
        {
            string plans = string.Join('\n', planned.Select(p => $"{p} {string.Join(' ', p.Run.MadeAgain)}"));
            if (told.Model is not { } model || told.Plans != plans)
            {
                (told.Plans, told.Model) = (plans, model = Model(data, analysis, Night(data, analysis, planned)));
            }

            return model;
        }
    }

    private static ReportModel Model(MasterData data, AnalysisResult analysis, ReportNight night, bool allCards = false) =>
        ReportBuilder.Build(data, analysis, CardStandings.Of(data, analysis, StandingsBefore(data, analysis, night)), night, allCards);

    /// <summary>The last night anything was measured in, or in which something planned came to its end without being measured.</summary>
    private static ReportNight Night(MasterData data, AnalysisResult analysis, IReadOnlyList<(DateOnly Night, bool Open, PlannedRun Run)> planned)
    {
        ReportNight night = ReportNight.Latest(analysis);
        DateOnly last = planned.Where(p => !p.Open).Select(p => p.Night).DefaultIfEmpty(night.Last).Max();
        return WithPlanned(last > night.Last || data.Runs.Count == 0 ? new ReportNight(last, last) : night, planned);
    }

    private static ReportNight WithPlanned(ReportNight night, IReadOnlyList<(DateOnly Night, bool Open, PlannedRun Run)> planned) => planned.Count == 0
        ? night
        : night with
        {
            Planned = [.. planned.Where(p => p.Night >= night.First && p.Night <= night.Last).Select(p => p.Run)],
            Upcoming = night.IsPast ? [] : [.. planned.Where(p => p.Open).Select(p => $"{p.Run.Card ?? "whatever card is in"} on {p.Run.Board}, {p.Run.Plan}")
                .GroupBy(line => line).Select(g => g.Count() > 1 ? $"{g.Key}, {g.Count().ToString(CultureInfo.InvariantCulture)} times" : g.Key)],
        };

    /// <summary>True when another night of the card would teach little: its last one narrowed its rank by no more than one place.</summary>
    internal bool IsSettled(MasterData data, string tag) => Settling.IsSettled(data, Analyse(data, new V1.ReportRequest()), tag);

    /// <summary>Where the cards stood when the night began: the data of the nights before it and what had been claimed by then.</summary>
    private static IReadOnlyDictionary<string, CardStanding> StandingsBefore(MasterData data, AnalysisResult analysis, ReportNight night)
    {
        // A claim that was typed or loaded changes what a verdict is about, not what the night brought: both sides are judged by the claims of today.
        MasterData before = Before(data, night.First) with { Claims = data.Claims };

        // Most cards were not measured in the night: what follows from their own data is taken over.
        return CardStandings.Of(before, Analyser.Run(before, analysis.Profile, null, analysis));
    }

    /// <summary>What had been measured and claimed when a night began.</summary>
    private static MasterData Before(MasterData data, DateOnly night) => data with
    {
        Runs = [.. data.Runs.Where(r => NightClock.NightOf(r) < night)],
        Claims = [.. data.Claims.Where(c => c.At < Trials.Night.BeginOf(night))],
    };

    /// <exception cref="CommandException">No such profile, or its file cannot be used.</exception>
    internal AnalysisResult Analyse(MasterData data, V1.ReportRequest request)
    {
        UseProfile profile = ProfileOf(request);
        bool isUsual = profile == UseProfile.SystemDisk && !request.WithAll;
        lock (_gate)
        {
            if (isUsual && _told.TryGetValue(data, out Told? told))
            {
                return told.Analysis;
            }

            _previous = Analyser.Run(data, profile, new AnalysisOptions { WithAll = request.WithAll, CapacitySettled = SettledCapacities.Of(data) }, _previous);
            if (isUsual)
            {
                _told.Add(data, new Told(_previous));
            }

            return _previous;
        }
    }

    /// <summary>The analysis of what is not so yet, with what is known of the rest.</summary>
    internal AnalysisResult AnalyseAside(MasterData data)
    {
        AnalysisResult? previous;
        lock (_gate)
        {
            previous = _previous;
        }

        return Analyser.Run(data, UseProfile.SystemDisk, new AnalysisOptions { CapacitySettled = SettledCapacities.Of(data) }, previous);
    }

    private static UseProfile ProfileOf(V1.ReportRequest request)
    {
        if (request.ProfileFile.Length > 0)
        {
            try
            {
                return ProfileFile.Parse(request.ProfileFile.Span, request.ProfileFileName);
            }
            catch (ProfileFileException e)
            {
                throw new CommandException(e.Message, 2);
            }
        }

        return UseProfile.Named(request.Profile.Length == 0 ? UseProfile.SystemDisk.Name : request.Profile)
            ?? throw new CommandException(
                $"There is no profile \"{request.Profile}\"; use {string.Join(", ", UseProfile.BuiltIn.Select(p => p.Name))}, or a profile file.", 2);
    }

    private static string ClaimLine(Claim? claim) => claim is null
        ? ""
        : string.Join(' ', new[]
        {
            claim.Maker,
            claim.Product,
            claim.LabelGigabytes is { } gigabytes ? string.Create(CultureInfo.InvariantCulture, $"{gigabytes:0.###} GB") : null,
        }.OfType<string>());

    /// <summary>What was made of a snapshot.</summary>
    /// <param name="analysis">Of the profile that is asked for where none is named.</param>
    private sealed class Told(AnalysisResult analysis)
    {
        internal AnalysisResult Analysis { get; } = analysis;

        /// <summary>What was planned when the report was made.</summary>
        internal string Plans { get; set; } = "";

        internal ReportModel? Model { get; set; }
    }
}
