using System.Collections.Concurrent;
using System.Diagnostics;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Trials;

/// <summary>A target in memory that records what is asked of it and can be slow, wrong or broken on purpose.</summary>
internal sealed unsafe class MemoryTarget(int sizeBytes) : IBlockTarget
{
    private readonly AlignedBuffer _memory = new(sizeBytes);

    public ConcurrentQueue<(char Operation, long OffsetBytes, int LengthBytes)> Log { get; } = [];

    public bool Records { get; set; }

    /// <summary>Time every transfer takes, spun so that the timer's grain does not matter.</summary>
    public TimeSpan Delay { get; set; } = TimeSpan.FromMicroseconds(2);

    /// <summary>Called before a transfer; a result other than 0 is returned instead of it.</summary>
    public Func<char, long, int>? Fault { get; set; }

    public TargetKind Kind => IsFile ? TargetKind.Folder : TargetKind.Device;

    public string Path => "memory";

    public long SizeBytes => sizeBytes;

    public int LogicalBlockBytes => 512;

    public bool CanWrite { get; set; } = true;

    public bool IsFile { get; set; }

    public bool Gone { get; set; }

    public byte* Memory => (byte*)_memory.Address;

    public int Read(long offsetBytes, nint buffer, int lengthBytes)
    {
        int fault = Before('r', offsetBytes, lengthBytes);
        if (fault == 0)
        {
            Buffer.MemoryCopy(Memory + offsetBytes, (void*)buffer, lengthBytes, lengthBytes);
        }

        return fault;
    }

    public int Write(long offsetBytes, nint buffer, int lengthBytes)
    {
        int fault = Before('w', offsetBytes, lengthBytes);
        if (fault == 0)
        {
            Buffer.MemoryCopy((void*)buffer, Memory + offsetBytes, lengthBytes, lengthBytes);
        }

        return fault;
    }

    public int Flush() => Before('f', 0, 0);

    public int DropExtension() => 0;

    public bool IsGone() => Gone;

    public bool IsAbandoned { get; private set; }

    public void Abandon() => IsAbandoned = true;

    public void Dispose()
    {
        // What is stuck may come back and touch the memory, as the kernel would.
        if (!IsAbandoned)
        {
            _memory.Dispose();
        }
    }

    private int Before(char operation, long offsetBytes, int lengthBytes)
    {
        if (Records)
        {
            Log.Enqueue((operation, offsetBytes, lengthBytes));
        }

        if (Delay > TimeSpan.Zero && operation != 'f')
        {
            long until = Stopwatch.GetTimestamp() + (long)(Delay.TotalSeconds * Stopwatch.Frequency);
            while (Stopwatch.GetTimestamp() < until)
            {
                Thread.SpinWait(10);
            }
        }

        return Fault?.Invoke(operation, offsetBytes) ?? 0;
    }
}
