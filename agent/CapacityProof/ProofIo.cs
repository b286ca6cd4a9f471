using System.Runtime.InteropServices;
using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// The transfers of a proof. One that fails is repeated after a pause. When it goes on failing, the device is asked for a block that could
/// be moved before: if it answers, the place is bad; if not, the device is away, and is waited for. So neither a link that errs nor an
/// outage looks like a card that loses data, and thousands of bad blocks do not take a minute each. May be called from two threads.
/// </summary>
internal sealed unsafe class ProofIo : IDisposable
{
    /// <summary>
    /// After so many places in a row that are bad although the device answers it is no accident any more,
    /// and pauses would only take hours.
    /// </summary>
    private const int BadPlacesInARow = 16;

    /// <summary>Then the device is still asked once in so many failures whether it is there at all.</summary>
    private const int AskAgainEvery = 64;

    private const int PausesBeforeAsking = 2;

    private static readonly TimeSpan FirstPause = TimeSpan.FromSeconds(0.1);
    private static readonly TimeSpan LongestPause = TimeSpan.FromSeconds(5);
    private static readonly TimeSpan AwayAtMost = TimeSpan.FromMinutes(1);

    private readonly IBlockTarget _target;
    private readonly ProofContext _context;
    private readonly CancellationToken _cancellation;
    private readonly Lock _gate = new();
    private readonly Lock _recovering = new();
    private readonly AlignedBuffer _lastWritten = new(SectorTag.BlockBytes);
    private readonly AlignedBuffer _scratch = new(SectorTag.BlockBytes);
    private readonly BlockRanges _refused = new();
    private long _lastWrittenAt = -1;
    private long _lastReadAt = -1;
    private long _repeats;
    private long _writeErrors;
    private int _badInARow;

    public ProofIo(IBlockTarget target, ProofContext context, ProofTroubles troubles, CancellationToken cancellation)
    {
        _target = target;
        _context = context;
        _cancellation = cancellation;
        Troubles = troubles;
    }

    public ProofTroubles Troubles { get; }

    public CancellationToken Cancellation => _cancellation;

    /// <summary>Transfers that succeeded after a failure, and readings that were right after a wrong one.</summary>
    public long Repeats => Interlocked.Read(ref _repeats);

    /// <summary>Blocks that could not be written.</summary>
    public long WriteErrors => Interlocked.Read(ref _writeErrors);

    public void CountRepeat() => Interlocked.Increment(ref _repeats);

    /// <inheritdoc cref="ProofTroubles.AgainstWriteOf"/>
    public NotJudgedReason? AgainstWriteOf(long block)
    {
        lock (_gate)
        {
            return Troubles.AgainstWriteOf(block);
        }
    }

    /// <summary>Blocks whose write was refused since the last call.</summary>
    public IReadOnlyList<BlockRun> TakeRefused()
    {
        lock (_gate)
        {
            BlockRun[] refused = [.. _refused.Runs];
            _refused.Clear();
            return refused;
        }
    }

    /// <summary>Takes over blocks that were refused before the card was put in again.</summary>
    public void Remember(IEnumerable<BlockRun> refused)
    {
        foreach (BlockRun run in refused)
        {
            _refused.Add(run);
        }
    }

    /// <summary>Writes. A transfer fails as a whole, so its blocks are then written one by one; what is refused is remembered.</summary>
    /// <exception cref="ProofStop">The card is gone, or answered nothing for a minute.</exception>
    public void Write(long offsetBytes, nint buffer, int lengthBytes)
    {
        if (Move(offsetBytes, buffer, lengthBytes, isWriting: true) == 0)
        {
            return;
        }

        if (lengthBytes == SectorTag.BlockBytes)
        {
            Interlocked.Increment(ref _writeErrors);
            lock (_gate)
            {
                _refused.Add(offsetBytes, lengthBytes);
            }

            return;
        }

        long refused = WriteErrors;
        for (int at = 0; at < lengthBytes; at += SectorTag.BlockBytes)
        {
            Write(offsetBytes + at, buffer + at, SectorTag.BlockBytes);
        }

        if (WriteErrors == refused)
        {
            Stumbled();
        }
    }

    /// <summary>Reads; returns 0 or the error number. Only a single block is repeated after pauses.</summary>
    /// <exception cref="ProofStop">The card is gone, or answered nothing for a minute.</exception>
    public int Read(long offsetBytes, nint buffer, int lengthBytes) => Move(offsetBytes, buffer, lengthBytes, isWriting: false);

    /// <summary>Makes everything written durable.</summary>
    /// <exception cref="ProofStop">That failed for a minute, or the card is gone.</exception>
    public void Flush()
    {
        _cancellation.ThrowIfCancellationRequested();
        long began = _context.Time.GetTimestamp();
        TimeSpan waited = TimeSpan.Zero;
        TimeSpan pause = FirstPause;
        bool failed = false;
        for (int errno; (errno = _target.Flush()) != 0;)
        {
            StopIfGone(errno);
            failed = true;
            if (waited >= AwayAtMost)
            {
                throw new ProofStop(RunOutcome.Interrupted,
                    $"The card could not be made to store what was written for {AwayAtMost.TotalSeconds:0} s: {Errno.Text(errno)}.");
            }

            Pause(ref pause, ref waited);
        }

        lock (_gate)
        {
            if (failed)
            {
                CountRepeat();
                Troubles.WasAway(0, 0, isWriting: true, _context.Time.GetElapsedTime(began));
            }

            Troubles.Flushed();
        }
    }

    public void Dispose()
    {
        _lastWritten.Dispose();
        _scratch.Dispose();
    }

    private int Move(long offsetBytes, nint buffer, int lengthBytes, bool isWriting)
    {
        _cancellation.ThrowIfCancellationRequested();
        int errno = Once(offsetBytes, buffer, lengthBytes, isWriting);
        if (errno == 0)
        {
            Volatile.Write(ref _badInARow, 0);
            return 0;
        }

        StopIfGone(errno);
        if (lengthBytes > SectorTag.BlockBytes)
        {
            return errno; // the caller goes through its blocks
        }

        lock (_recovering)
        {
            return Recover(offsetBytes, buffer, isWriting, errno);
        }
    }

    /// <summary>Repeats a block that failed until it works, the device answers elsewhere, or a minute is over.</summary>
    private int Recover(long offsetBytes, nint buffer, bool isWriting, int errno)
    {
        if (_badInARow >= BadPlacesInARow && _badInARow % AskAgainEvery != 0)
        {
            _badInARow++;
            return errno;
        }

        long began = _context.Time.GetTimestamp();
        TimeSpan waited = TimeSpan.Zero;
        TimeSpan pause = FirstPause;
        bool isAway = false;
        for (int tries = 0; ; tries++)
        {
            bool asks = isAway || tries >= PausesBeforeAsking || _badInARow >= BadPlacesInARow;
            if (asks && Answers(isWriting))
            {
                if (isAway)
                {
                    CameBack(offsetBytes, isWriting, began);
                    (isAway, tries) = (false, 0); // it is there again; whether this place is bad is still to be seen
                    (pause, waited) = (FirstPause, TimeSpan.Zero);
                    began = _context.Time.GetTimestamp();
                }
                else
                {
                    _badInARow++;
                    return errno;
                }
            }
            else
            {
                isAway = asks;
            }

            if (waited >= AwayAtMost)
            {
                throw new ProofStop(RunOutcome.Interrupted, isWriting
                    ? $"The device took no write for {AwayAtMost.TotalSeconds:0} s: {Errno.Text(errno)}."
                    : $"The device answered nothing for {AwayAtMost.TotalSeconds:0} s: {Errno.Text(errno)}.");
            }

            Pause(ref pause, ref waited);
            errno = Once(offsetBytes, buffer, SectorTag.BlockBytes, isWriting);
            if (errno == 0)
            {
                if (isAway)
                {
                    CameBack(offsetBytes, isWriting, began);
                }
                else
                {
                    Stumbled();
                }

                CountRepeat();
                _badInARow = 0;
                return 0;
            }

            StopIfGone(errno);
        }
    }

    /// <summary>What failed works again. The card may have been reset meanwhile, by itself or by the host, and nobody says so.</summary>
    private void Stumbled()
    {
        lock (_gate)
        {
            Troubles.MayHaveForgotten();
        }
    }

    private void CameBack(long offsetBytes, bool isWriting, long began)
    {
        lock (_gate)
        {
            Troubles.WasAway(offsetBytes, SectorTag.BlockBytes, isWriting, _context.Time.GetElapsedTime(began));
        }
    }

    /// <summary>True when the device moves a block that it moved before, or lets any of a few others be read.</summary>
    private bool Answers(bool isWriting)
    {
        if (isWriting)
        {
            // What the block holds already is written once more: no other place changes, whatever the card does with addresses.
            return _lastWrittenAt >= 0 && _target.Write(_lastWrittenAt, _lastWritten.Address, SectorTag.BlockBytes) == 0;
        }

        long last = _target.SizeBytes / SectorTag.BlockBytes - 1;
        return new[] { _lastReadAt, _lastWrittenAt, 0, last / 3 * SectorTag.BlockBytes, last * SectorTag.BlockBytes }
            .Any(at => at >= 0 && _target.Read(at, _scratch.Address, SectorTag.BlockBytes) == 0);
    }

    private int Once(long offsetBytes, nint buffer, int lengthBytes, bool isWriting)
    {
        int errno = isWriting ? _target.Write(offsetBytes, buffer, lengthBytes) : _target.Read(offsetBytes, buffer, lengthBytes);
        if (errno == 0)
        {
            lock (_gate)
            {
                Troubles.Moved(offsetBytes, lengthBytes, isWriting);
                if (isWriting)
                {
                    _lastWrittenAt = offsetBytes;
                    Buffer.MemoryCopy((void*)buffer, (void*)_lastWritten.Address, SectorTag.BlockBytes, SectorTag.BlockBytes);
                }
                else
                {
                    _lastReadAt = offsetBytes;
                }
            }
        }

        return errno;
    }

    private void StopIfGone(int errno)
    {
        if (Errno.MeansGone(errno) || _target.IsGone())
        {
            throw new ProofStop(RunOutcome.Interrupted, $"The card is gone: {Marshal.GetPInvokeErrorMessage(errno)}.");
        }
    }

    private void Pause(ref TimeSpan pause, ref TimeSpan waited)
    {
        _context.Pause(pause, _cancellation);
        _cancellation.ThrowIfCancellationRequested();
        waited += pause;
        pause = TimeSpan.FromTicks(Math.Min(2 * pause.Ticks, LongestPause.Ticks));
    }
}
