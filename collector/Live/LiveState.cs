namespace Cardassay.Collector.Live;

/// <summary>Everything the live page shows, worded; texts may come from anywhere and are escaped by the page.</summary>
internal sealed record LiveState
{
    /// <summary>Boards heard of since the collector started, by name.</summary>
    public IReadOnlyList<LiveBoard> Boards { get; init; } = [];

    /// <summary>Delivery counts in one sentence; empty while the data are still being read.</summary>
    public string Integrity { get; init; } = "";

    /// <summary>What a person has to decide or do, as sentences.</summary>
    public IReadOnlyList<string> NeedsPerson { get; init; } = [];

    /// <summary>Doubts and contradictions, those of the card measured last first.</summary>
    public IReadOnlyList<LiveFinding> Findings { get; init; } = [];

    /// <summary>Findings there are in all.</summary>
    public int AllFindings { get; init; }

    /// <summary>What the last capacity proof of each card came to, those of the card measured last first.</summary>
    public IReadOnlyList<LiveProof> Proofs { get; init; } = [];

    /// <summary>Cards with a capacity proof there are in all.</summary>
    public int AllProofs { get; init; }

    /// <summary>Nights anything was measured in, the newest first.</summary>
    public IReadOnlyList<LiveNight> Nights { get; init; } = [];

    /// <summary>True when any of the data is made up.</summary>
    public bool Invented { get; init; }

    /// <summary>True until the data have been read for the first time.</summary>
    public bool Reading { get; init; }
}

/// <summary>One board right now.</summary>
/// <param name="Name">Its name.</param>
/// <param name="Model">Model and agent version; empty when it said neither.</param>
/// <param name="Connected">True while its delivery stream is open.</param>
/// <param name="LastHeard">Time it was last heard, UTC.</param>
/// <param name="Doing">What it is doing, or "idle".</param>
/// <param name="Percent">How far it is, 0 to 100; null when idle.</param>
/// <param name="Left">Estimate of the time left; empty when idle.</param>
/// <param name="Cards">Cards in its slots; empty when it reports none.</param>
/// <param name="Steps">How far the cards are that a standing order is for, a sentence each.</param>
/// <param name="Records">Records received since the collector started.</param>
/// <param name="Backlog">Records it holds without a receipt.</param>
internal sealed record LiveBoard(
    string Name, string Model, bool Connected, string LastHeard, string Doing, int? Percent, string Left, string Cards,
    IReadOnlyList<string> Steps, string Records, string Backlog)
{
    /// <summary>Cards in its slots that wait for a person, a sentence each.</summary>
    public IReadOnlyList<string> Asks { get; init; } = [];
}

/// <summary>One finding about a card.</summary>
/// <param name="Card">Title of the card.</param>
/// <param name="Severity">"doubt" or "contradiction".</param>
/// <param name="Text">One sentence.</param>
/// <param name="When">When the card was last measured, UTC.</param>
internal sealed record LiveFinding(string Card, string Severity, string Text, string When);

/// <summary>What a capacity proof came to.</summary>
/// <param name="Card">Title of the card.</param>
/// <param name="Statement">One sentence, with what the card keeps at the least and every other bound.</param>
/// <param name="When">When the card was last measured, UTC.</param>
internal sealed record LiveProof(string Card, string Statement, string When);

/// <summary>One night with its reports.</summary>
/// <param name="Id">Day the night began, yyyy-MM-dd.</param>
/// <param name="Span">The night in words.</param>
/// <param name="Runs">Runs.</param>
/// <param name="Cards">Cards measured.</param>
/// <param name="Boards">Boards at work.</param>
internal sealed record LiveNight(string Id, string Span, int Runs, int Cards, int Boards);
