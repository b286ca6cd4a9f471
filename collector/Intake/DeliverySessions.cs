using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Which stream speaks for which journal. A later greeting for the same journal takes over at once (a rebooted board is back in
/// seconds); when the replaced boot speaks again, two machines share one journal.
/// </summary>
internal sealed class DeliverySessions
{
    private readonly Lock _gate = new();
    private readonly Dictionary<string, Session> _byEpoch = new(StringComparer.Ordinal);
    private readonly Dictionary<string, HashSet<string>> _replacedBoots = new(StringComparer.Ordinal);

    /// <summary>Doubts that are written down and still hold: a board greets whenever it comes back, a night through, and gives rise to the same each time.</summary>
    private readonly HashSet<(V1.JournalDoubt.Types.Kind Kind, string Board, ByteString Epoch)> _told = [];

    /// <summary>Whether a doubt of this kind about a board's journal was written down since this collector started.</summary>
    internal bool WasTold(V1.JournalDoubt doubt)
    {
        lock (_gate)
        {
            return _told.Contains((doubt.Kind, doubt.Board, doubt.Epoch));
        }
    }

    /// <summary>Notes that a doubt is written down.</summary>
    internal void Told(V1.JournalDoubt doubt)
    {
        lock (_gate)
        {
            _told.Add((doubt.Kind, doubt.Board, doubt.Epoch));
        }
    }

    /// <summary>Notes that a doubt does not hold any more: the next of its kind is another.</summary>
    internal void Over(V1.JournalDoubt.Types.Kind kind, string board, ByteString epoch)
    {
        lock (_gate)
        {
            _told.Remove((kind, board, epoch));
        }
    }

    /// <summary>Registers a stream for the journal's current epoch.</summary>
    /// <returns>The session, and whether a boot that had been replaced speaks again.</returns>
    internal (Session Session, bool Clone) Open(string epoch, string board, string bootId)
    {
        lock (_gate)
        {
            bool clone = false;
            if (_byEpoch.TryGetValue(epoch, out Session? old))
            {
                old.Replace();
                if (old.BootId != bootId)
                {
                    clone = _replacedBoots.TryGetValue(epoch, out HashSet<string>? boots) && boots.Contains(bootId);
                    Remember(epoch, old.BootId);
                }
            }

            var session = new Session(epoch, board, bootId);
            _byEpoch[epoch] = session;
            return (session, clone);
        }
    }

    internal void Close(Session session)
    {
        lock (_gate)
        {
            if (_byEpoch.TryGetValue(session.Epoch, out Session? current) && ReferenceEquals(current, session))
            {
                _byEpoch.Remove(session.Epoch);
            }
        }

        session.Dispose();
    }

    /// <summary>Number of open streams, and whether one of them is this board's.</summary>
    internal (int Open, Func<string, bool> IsOpen) Look()
    {
        lock (_gate)
        {
            var boards = _byEpoch.Values.Select(s => s.Board).ToHashSet(StringComparer.Ordinal);
            return (_byEpoch.Count, boards.Contains);
        }
    }

    private void Remember(string epoch, string bootId)
    {
        if (!_replacedBoots.TryGetValue(epoch, out HashSet<string>? boots))
        {
            _replacedBoots[epoch] = boots = new HashSet<string>(StringComparer.Ordinal);
        }

        boots.Add(bootId);
    }

    internal sealed class Session(string epoch, string board, string bootId) : IDisposable
    {
        private readonly CancellationTokenSource _replaced = new();
        private readonly Lock _gate = new();
        private bool _disposed;

        internal string Epoch { get; } = epoch;

        internal string Board { get; } = board;

        internal string BootId { get; } = bootId;

        internal CancellationToken Replaced => _replaced.Token;

        public void Dispose()
        {
            lock (_gate)
            {
                _disposed = true;
                _replaced.Dispose();
            }
        }

        internal void Replace()
        {
            lock (_gate)
            {
                if (!_disposed)
                {
                    _replaced.Cancel();
                }
            }
        }
    }
}
