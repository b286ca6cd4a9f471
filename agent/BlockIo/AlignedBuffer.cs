namespace Cardassay.Agent.BlockIo;

/// <summary>Native memory aligned to 4,096 bytes, as direct I/O needs it; zeroed.</summary>
public sealed class AlignedBuffer : IDisposable
{
    private const int ReadAndWrite = 3; // PROT_READ | PROT_WRITE

    /// <summary>
    /// MAP_PRIVATE | MAP_ANONYMOUS | MAP_POPULATE, the same on x64 and arm64: no page is first touched while time is measured.
    /// </summary>
    private const int PrivateAnonymousPresent = 0x8022;

    private nint _memory;

    /// <summary>Takes the memory.</summary>
    public AlignedBuffer(int lengthBytes)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(lengthBytes, 1);
        LengthBytes = lengthBytes;

        // Not the heap of the C library: it would keep what a trial gave back, and a board has little memory.
        _memory = Libc.Mmap(0, (nuint)lengthBytes, ReadAndWrite, PrivateAnonymousPresent, -1, 0);
        if (_memory == -1)
        {
            _memory = 0;
            throw new OutOfMemoryException($"The system gives no buffer of {lengthBytes} bytes.");
        }
    }

    /// <summary>Bytes.</summary>
    public int LengthBytes { get; }

    /// <summary>Where it begins.</summary>
    public nint Address => _memory;

    /// <summary>
    /// Gives the memory back. Not called, and there is no finalizer, when a transfer never came back from the kernel: the kernel may
    /// still write into it, so it is left to the end of the process.
    /// </summary>
    public void Dispose()
    {
        if (_memory != 0)
        {
            Libc.Munmap(_memory, (nuint)LengthBytes);
            _memory = 0;
        }
    }
}
