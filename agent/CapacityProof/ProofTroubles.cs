using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// Keeps where in the range the link erred and where the device was away, so that a loss there is not held against the card. The host is
/// asked for its count about four times a second; errors since the last question belong to all transfers since.
/// Called by one thread at a time.
/// </summary>
internal sealed class ProofTroubles(ProofContext context)
{
    private const int KeptAtMost = 64;
    private static readonly TimeSpan AskEvery = TimeSpan.FromMilliseconds(250);

    private readonly List<ProofTrouble> _troubles = [];
    private readonly BlockRanges _since = new();
    private readonly BlockRanges _unflushed = new();
    private readonly BlockRanges _writtenWhileErring = new();
    private readonly BlockRanges _writtenBeforeAbsence = new();
    private long? _counted = context.Conditions?.Sample().LinkErrors;
    private long _asked = context.Time.GetTimestamp();
    private bool _isWriting;

    /// <summary>Where it was, in the order of time.</summary>
    public IReadOnlyList<ProofTrouble> All => _troubles;

    /// <summary>Times the device was away and came back.</summary>
    public long Absences { get; private set; }

    /// <summary>How long in all.</summary>
    public TimeSpan Away { get; private set; }

    /// <summary>Notes a transfer that succeeded.</summary>
    public void Moved(long offsetBytes, int lengthBytes, bool isWriting)
    {
        if (isWriting)
        {
            _unflushed.Add(offsetBytes, lengthBytes);
        }

        if (_counted is null)
        {
            return;
        }

        if (isWriting != _isWriting)
        {
            Ask();
            _isWriting = isWriting;
        }

        _since.Add(offsetBytes, lengthBytes);
        if (context.Time.GetElapsedTime(_asked) >= AskEvery)
        {
            Ask();
        }
    }

    /// <summary>Everything written so far is on the card.</summary>
    public void Flushed()
    {
        Ask();
        _unflushed.Clear();
    }

    /// <summary>
    /// The device answered nothing for a while; what was written and not yet flushed may be lost with whatever remembered it.
    /// </summary>
    public void WasAway(long offsetBytes, int lengthBytes, bool isWriting, TimeSpan time)
    {
        Absences++;
        Away += time;
        _writtenBeforeAbsence.Add(_unflushed);
        _unflushed.Clear();
        Keep(new ProofTrouble(offsetBytes, offsetBytes + lengthBytes, isWriting, 0, 1));
    }

    /// <summary>The same without an absence: a transfer failed and soon worked again.</summary>
    public void MayHaveForgotten()
    {
        _writtenBeforeAbsence.Add(_unflushed);
        _unflushed.Clear();
    }

    /// <summary>Why a loss of a block may not be the card's, by how it was written; null when nothing is known against it.</summary>
    public NotJudgedReason? AgainstWriteOf(long block)
    {
        Ask();
        return _writtenBeforeAbsence.Contains(block) ? NotJudgedReason.WasAway
            : _writtenWhileErring.Contains(block) ? NotJudgedReason.LinkErred
            : null;
    }

    private void Ask()
    {
        if (_counted is not { } before || _since.IsEmpty)
        {
            return;
        }

        _asked = context.Time.GetTimestamp();
        long? now = context.Conditions?.Sample().LinkErrors;
        if (now > before)
        {
            IReadOnlyList<BlockRun> runs = _since.Runs;
            if (_isWriting)
            {
                _writtenWhileErring.Add(_since);
            }

            Keep(new ProofTrouble(runs[0].Start * SectorTag.BlockBytes, runs[^1].End * SectorTag.BlockBytes, _isWriting,
                now.Value - before, 0));
        }

        _counted = now ?? before;
        _since.Clear();
    }

    /// <summary>Beyond the bound the last one takes in all further ones.</summary>
    private void Keep(ProofTrouble trouble)
    {
        if (_troubles.Count < KeptAtMost)
        {
            _troubles.Add(trouble);
            return;
        }

        ProofTrouble last = _troubles[^1];
        _troubles[^1] = new ProofTrouble(
            Math.Min(last.StartBytes, trouble.StartBytes), Math.Max(last.EndBytes, trouble.EndBytes), trouble.WasWriting,
            last.LinkErrors + trouble.LinkErrors, last.Absences + trouble.Absences);
    }
}
