using Microsoft.Win32.SafeHandles;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>A sparse file of the true size that answers for the claimed size.</summary>
public sealed class LyingStore : IDisposable
{
    private readonly SafeFileHandle file;
    private readonly long trueBytes;
    private readonly PastTheEnd pastTheEnd;

    /// <summary>An empty store.</summary>
    public LyingStore(long claimedBytes, long trueBytes, PastTheEnd pastTheEnd)
    {
        ClaimedBytes = claimedBytes;
        this.trueBytes = trueBytes;
        this.pastTheEnd = pastTheEnd;
        file = File.OpenHandle(
            WorkFolder.NewPath("store"), FileMode.CreateNew, FileAccess.ReadWrite, FileShare.None, FileOptions.DeleteOnClose, preallocationSize: 0);
    }

    /// <summary>What it claims to keep.</summary>
    public long ClaimedBytes { get; }

    /// <summary>Reads from anywhere below the claim; what was never written is zero.</summary>
    public void Read(long offset, Span<byte> into)
    {
        while (!into.IsEmpty)
        {
            (long? at, int length) = Piece(offset, into.Length);
            Span<byte> piece = into[..length];
            int read = at is long position ? RandomAccess.Read(file, piece, position) : 0;
            piece[read..].Clear();
            into = into[length..];
            offset += length;
        }
    }

    /// <summary>Writes anywhere below the claim.</summary>
    public void Write(long offset, ReadOnlySpan<byte> from)
    {
        while (!from.IsEmpty)
        {
            (long? at, int length) = Piece(offset, from.Length);
            if (at is long position)
            {
                RandomAccess.Write(file, from[..length], position);
            }

            from = from[length..];
            offset += length;
        }
    }

    /// <inheritdoc/>
    public void Dispose() => file.Dispose();

    // Where a range really begins (null: nowhere), and how much of it lies there in one piece.
    private (long? At, int Length) Piece(long offset, int length)
    {
        if (offset >= trueBytes && pastTheEnd == PastTheEnd.Drop)
        {
            return (null, length);
        }

        long at = offset % trueBytes;
        return (at, (int)Math.Min(length, trueBytes - at));
    }
}
