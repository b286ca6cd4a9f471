namespace Cardassay.Collector.Hosting;

/// <summary>
/// How many lines may be written within a minute: so many of one kind about one caller, so many of one kind in all. Lines beyond are
/// counted, and the count is told when the minute is over, so that someone who knocks without rest fills no disk and hides nobody else.
/// </summary>
internal sealed class LineBudget : IDisposable
{
    /// <summary>The span that is counted over.</summary>
    internal static readonly TimeSpan Window = TimeSpan.FromMinutes(1);

    private readonly TimeProvider _time;
    private readonly int _perCaller;
    private readonly int _together;
    private readonly Action<string, long> _tell;
    private readonly ITimer _timer;
    private readonly Lock _gate = new();
    private readonly Dictionary<string, int> _ofKind = new(StringComparer.Ordinal);
    private readonly Dictionary<(string Kind, string Caller), int> _ofCaller = [];
    private Dictionary<string, long> _heldBack = new(StringComparer.Ordinal);
    private long _began;

    /// <param name="time">Its clock.</param>
    /// <param name="perCaller">Lines of one kind about one caller in a minute.</param>
    /// <param name="together">Lines of one kind in a minute.</param>
    /// <param name="tell">Told the kind and how many of its lines were held back, after each minute in which some were.</param>
    internal LineBudget(TimeProvider time, int perCaller, int together, Action<string, long> tell)
    {
        _time = time;
        _perCaller = perCaller;
        _together = together;
        _tell = tell;
        _began = time.GetTimestamp();
        _timer = time.CreateTimer(_ => Tick(), null, Window, Window); // a flood that ends is told of too
    }

    /// <summary>True when the line may be written; else it is counted.</summary>
    /// <param name="kind">What kind of line it is; one of a fixed set, never made of what a caller sends.</param>
    /// <param name="caller">Whom it is about; "" for nobody.</param>
    /// <param name="cost">How many ordinary lines it weighs, from 1.</param>
    internal bool Take(string kind, string caller, int cost = 1)
    {
        Dictionary<string, long> over;
        bool fits;
        lock (_gate)
        {
            over = Roll();
            int ofKind = _ofKind.GetValueOrDefault(kind);
            int ofCaller = _ofCaller.GetValueOrDefault((kind, caller));

            // The first one always: a line that weighs more than the whole budget is still worth being told once.
            fits = (ofKind == 0 || ofKind + cost <= _together) && (caller.Length == 0 || ofCaller == 0 || ofCaller + cost <= _perCaller);
            if (fits)
            {
                // Only what is written is remembered, so that made-up names take no memory.
                _ofKind[kind] = ofKind + cost;
                if (caller.Length > 0)
                {
                    _ofCaller[(kind, caller)] = ofCaller + cost;
                }
            }
            else
            {
                _heldBack[kind] = _heldBack.GetValueOrDefault(kind) + 1;
            }
        }

        Tell(over);
        return fits;
    }

    /// <summary>Tells what is still untold.</summary>
    public void Dispose()
    {
        _timer.Dispose();
        Dictionary<string, long> rest;
        lock (_gate)
        {
            rest = Clear();
        }

        Tell(rest);
    }

    private void Tick()
    {
        Dictionary<string, long> over;
        lock (_gate)
        {
            over = Roll();
        }

        Tell(over);
    }

    private Dictionary<string, long> Roll() => _time.GetElapsedTime(_began) >= Window ? Clear() : [];

    private Dictionary<string, long> Clear()
    {
        Dictionary<string, long> heldBack = _heldBack;
        _heldBack = new Dictionary<string, long>(StringComparer.Ordinal);
        _ofKind.Clear();
        _ofCaller.Clear();
        _began = _time.GetTimestamp();
        return heldBack;
    }

    private void Tell(Dictionary<string, long> heldBack)
    {
        foreach ((string kind, long lines) in heldBack)
        {
            _tell(kind, lines);
        }
    }
}
