using Cardassay.Journal;

namespace Cardassay.Agent.Delivery;

/// <summary>What was sent and has no receipt yet: at most 256 records or 1 MiB.</summary>
internal sealed class SendWindow
{
    /// <summary>Most records without a receipt.</summary>
    internal const int MaxRecords = 256;

    /// <summary>Most payload bytes without a receipt; a single larger record may still go alone.</summary>
    internal const long MaxBytes = 1 << 20;

    private readonly Lock _gate = new();
    private readonly Dictionary<LogEpoch, long> _next = [];
    private readonly LinkedList<(LogEpoch Epoch, long Sequence, int Bytes)> _outstanding = new();
    private long _bytes;

    /// <summary>The next sequence of the epoch to send, from 1.</summary>
    internal long Next(LogEpoch epoch)
    {
        lock (_gate)
        {
            return _next.GetValueOrDefault(epoch, 1);
        }
    }

    internal bool HasRoom(int bytes)
    {
        lock (_gate)
        {
            return _outstanding.Count == 0 || (_outstanding.Count < MaxRecords && _bytes + bytes <= MaxBytes);
        }
    }

    internal void Sent(LogEpoch epoch, long sequence, int bytes)
    {
        lock (_gate)
        {
            _next[epoch] = sequence + 1;
            _outstanding.AddLast((epoch, sequence, bytes));
            _bytes += bytes;
        }
    }

    /// <summary>A record was sent before its turn; the next to send stays what it is.</summary>
    internal void SentAhead(LogEpoch epoch, long sequence, int bytes)
    {
        lock (_gate)
        {
            _outstanding.AddLast((epoch, sequence, bytes));
            _bytes += bytes;
        }
    }

    /// <summary>Everything of the epoch up to the sequence is at the collector, whether it was sent on this stream or not.</summary>
    internal void Receipted(LogEpoch epoch, long through)
    {
        lock (_gate)
        {
            Remove(o => o.Epoch == epoch && o.Sequence <= through);
            _next[epoch] = Math.Max(_next.GetValueOrDefault(epoch, 1), through + 1);
        }
    }

    /// <summary>The collector asks again from a sequence on.</summary>
    internal void SendAgain(LogEpoch epoch, long from)
    {
        lock (_gate)
        {
            Remove(o => o.Epoch == epoch && o.Sequence >= from);
            _next[epoch] = from;
        }
    }

    private void Remove(Func<(LogEpoch Epoch, long Sequence, int Bytes), bool> gone)
    {
        LinkedListNode<(LogEpoch Epoch, long Sequence, int Bytes)>? node = _outstanding.First;
        while (node is not null)
        {
            LinkedListNode<(LogEpoch Epoch, long Sequence, int Bytes)>? next = node.Next;
            if (gone(node.Value))
            {
                _bytes -= node.Value.Bytes;
                _outstanding.Remove(node);
            }

            node = next;
        }
    }
}
