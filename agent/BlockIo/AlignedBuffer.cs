using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

/// <summary>Native memory aligned to 4,096 bytes, as direct I/O needs it; zeroed.</summary>
public sealed unsafe class AlignedBuffer : IDisposable
{
    private const int AlignBytes = 4096;

    private void* _memory;

    /// <summary>Takes the memory.</summary>
    public AlignedBuffer(int lengthBytes)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(lengthBytes, 1);
        LengthBytes = lengthBytes;
        _memory = NativeMemory.AlignedAlloc((nuint)lengthBytes, AlignBytes);
        NativeMemory.Clear(_memory, (nuint)lengthBytes);
    }

    /// <summary>Bytes.</summary>
    public int LengthBytes { get; }

    /// <summary>Where it begins.</summary>
    public nint Address => (nint)_memory;

    /// <summary>
    /// Gives the memory back. Not called, and there is no finalizer, when a transfer never came back from the kernel: the kernel may
    /// still write into it, so it is left to the end of the process.
    /// </summary>
    public void Dispose()
    {
        NativeMemory.AlignedFree(_memory);
        _memory = null;
    }
}
