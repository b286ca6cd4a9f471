namespace Cardassay.Collector.Boards;

/// <summary>A certificate that counts.</summary>
/// <param name="Board">The board it stands for.</param>
/// <param name="Fingerprint">SHA-256 of the certificate, hex.</param>
/// <param name="IssuedAt">When it was issued, by the collector's clock.</param>
/// <param name="EndsAt">When its life is over; the board is let in all the same.</param>
/// <param name="ShutOut">Cancelled as soon as it no longer counts: ends what it opened.</param>
internal sealed record Member(string Board, string Fingerprint, DateTimeOffset IssuedAt, DateTimeOffset EndsAt, CancellationToken ShutOut)
{
    /// <summary>True from half of its life on.</summary>
    internal bool ShouldRenew(DateTimeOffset now) => now >= IssuedAt + ((EndsAt - IssuedAt) / 2);
}
