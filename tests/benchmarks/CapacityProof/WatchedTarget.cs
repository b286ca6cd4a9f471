using System.Diagnostics;
using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Benchmarks.CapacityProof;

/// <summary>Passes transfers on, and notes them and when the phases began and ended.</summary>
internal sealed class WatchedTarget(IBlockTarget target) : IBlockTarget
{
    public TargetKind Kind => target.Kind;

    public string Path => target.Path;

    public long SizeBytes => target.SizeBytes;

    public int LogicalBlockBytes => target.LogicalBlockBytes;

    public bool CanWrite => target.CanWrite;

    public bool IsFile => target.IsFile;

    /// <summary>Transfers in order; a length below zero is a reading, zero a flush.</summary>
    public List<(long OffsetBytes, int LengthBytes)> Transfers { get; } = [];

    /// <summary>Time stamp before the first write; 0 without one.</summary>
    public long FirstWrite { get; private set; }

    /// <summary>Time stamp after the last flush.</summary>
    public long LastFlush { get; private set; }

    /// <summary>Time stamp before the first read; 0 without one.</summary>
    public long FirstRead { get; private set; }

    public int Read(long offsetBytes, nint buffer, int lengthBytes)
    {
        FirstRead = FirstRead == 0 ? Stopwatch.GetTimestamp() : FirstRead;
        Transfers.Add((offsetBytes, -lengthBytes));
        return target.Read(offsetBytes, buffer, lengthBytes);
    }

    public int Write(long offsetBytes, nint buffer, int lengthBytes)
    {
        FirstWrite = FirstWrite == 0 ? Stopwatch.GetTimestamp() : FirstWrite;
        Transfers.Add((offsetBytes, lengthBytes));
        return target.Write(offsetBytes, buffer, lengthBytes);
    }

    public int Flush()
    {
        Transfers.Add((0, 0));
        int errno = target.Flush();
        LastFlush = Stopwatch.GetTimestamp();
        return errno;
    }

    public int DropExtension() => target.DropExtension();

    public void Abandon() => target.Abandon();

    public bool IsGone() => target.IsGone();

    public void Dispose() => target.Dispose();
}
