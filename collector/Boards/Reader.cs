namespace Cardassay.Collector.Boards;

/// <summary>Somebody who may read the page from another machine.</summary>
/// <param name="Name">What the operator calls them.</param>
/// <param name="ShutOut">Cancelled as soon as the link no longer counts: ends what it opened.</param>
internal sealed record Reader(string Name, CancellationToken ShutOut);
