using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Threading.RateLimiting;

namespace Cardassay.Collector.Boards;

/// <summary>
/// How often one caller may ask. Every limit is per caller, so that nobody can lock another out; callers not heard of for a while are
/// forgotten by the limiter itself. The figures are common sense, no source: far above what an agent does, far below what hurts.
/// </summary>
internal sealed class CallLimits : IDisposable
{
    /// <summary>Wrong codes at once from one address; then one every <see cref="GuessEvery"/>.</summary>
    internal const int Guesses = 10;

    /// <summary>Calls at once of one board; then 20 a second.</summary>
    internal const int BoardCalls = 200;

    /// <summary>
    /// Calls at once without a certificate from one address (a whole laboratory may join from behind one); then 10 a second.
    /// </summary>
    internal const int StrangerCalls = 200;

    internal static readonly TimeSpan GuessEvery = TimeSpan.FromSeconds(6);

    private PartitionedRateLimiter<string> _guesses = Limiter(Guesses, 1, GuessEvery);
    private PartitionedRateLimiter<string> _boards = Limiter(BoardCalls, 20, TimeSpan.FromSeconds(1));
    private PartitionedRateLimiter<string> _strangers = Limiter(StrangerCalls, 10, TimeSpan.FromSeconds(1));

    /// <summary>True while the address has not guessed too often; takes nothing.</summary>
    /// <remarks>Not by taking nothing: a bucket with a fraction of a permit gives that, though no whole one is left.</remarks>
    internal bool MayGuess(IPAddress? address) => _guesses.GetStatistics(Network(address))?.CurrentAvailablePermits >= 1;

    /// <summary>Counts a wrong code.</summary>
    internal void CountGuess(IPAddress? address) => Take(_guesses, Network(address), 1);

    /// <summary>Counts a call of a board; false when it is one too many.</summary>
    internal bool TakeBoard(string board) => Take(_boards, board, 1);

    /// <summary>Counts a call without a certificate; false when it is one too many.</summary>
    internal bool TakeStranger(IPAddress? address) => Take(_strangers, Network(address), 1);

    /// <summary>Begins anew, as after a start.</summary>
    internal void Forget()
    {
        Dispose();
        _guesses = Limiter(Guesses, 1, GuessEvery);
        _boards = Limiter(BoardCalls, 20, TimeSpan.FromSeconds(1));
        _strangers = Limiter(StrangerCalls, 10, TimeSpan.FromSeconds(1));
    }

    public void Dispose()
    {
        _guesses.Dispose();
        _boards.Dispose();
        _strangers.Dispose();
    }

    /// <summary>One network of addresses counts as one: IPv6 by its /64, which a single machine may use freely.</summary>
    internal static string Network(IPAddress? address)
    {
        if (address is null)
        {
            return "none";
        }

        if (address.IsIPv4MappedToIPv6)
        {
            address = address.MapToIPv4();
        }

        return address.AddressFamily == AddressFamily.InterNetworkV6
            ? Convert.ToHexStringLower(address.GetAddressBytes().AsSpan(0, 8))
            : string.Create(CultureInfo.InvariantCulture, $"{address}");
    }

    private static bool Take(PartitionedRateLimiter<string> limiter, string key, int permits)
    {
        using RateLimitLease lease = limiter.AttemptAcquire(key, permits);
        return lease.IsAcquired;
    }

    private static PartitionedRateLimiter<string> Limiter(int atOnce, int perPeriod, TimeSpan period) =>
        PartitionedRateLimiter.Create<string, string>(
            key => RateLimitPartition.GetTokenBucketLimiter(key, _ => new TokenBucketRateLimiterOptions
        {
            TokenLimit = atOnce,
            TokensPerPeriod = perPeriod,
            ReplenishmentPeriod = period,
            QueueLimit = 0,
            AutoReplenishment = true,
        }));
}
