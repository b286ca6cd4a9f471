using Cardassay.Trials;

namespace Cardassay.Agent.BlockIo;

/// <summary>
/// What trials read and write. Offsets and lengths are multiples of 4,096 and buffers are aligned to 4,096. The transfer methods
/// are called from several threads at once, allocate nothing and return 0 or an error number instead of throwing.
/// </summary>
public interface IBlockTarget : IDisposable
{
    /// <summary>A whole device, or a scratch file in a folder.</summary>
    TargetKind Kind { get; }

    /// <summary>Path of the device or folder.</summary>
    string Path { get; }

    /// <summary>Bytes that can be addressed, a multiple of 4,096.</summary>
    long SizeBytes { get; }

    /// <summary>Least transfer of the device, bytes.</summary>
    int LogicalBlockBytes { get; }

    /// <summary>False when it was opened for reading only.</summary>
    bool CanWrite { get; }

    /// <summary>
    /// True when every range must be written once before any trial uses it: the blocks of a file have no place on the card until
    /// then. It is also the target that can be extended past <see cref="SizeBytes"/>.
    /// </summary>
    bool IsFile { get; }

    /// <summary>Reads the whole length; an end before it is error 61.</summary>
    int Read(long offsetBytes, nint buffer, int lengthBytes);

    /// <summary>Writes the whole length.</summary>
    int Write(long offsetBytes, nint buffer, int lengthBytes);

    /// <summary>Makes everything written durable.</summary>
    int Flush();

    /// <summary>Takes back what was written past <see cref="SizeBytes"/>; nothing on a device.</summary>
    int DropExtension();

    /// <summary>
    /// Says that a transfer never came back from the kernel: the descriptor then stays open until the process ends, so that nothing
    /// that comes back late can meet another file under the same number.
    /// </summary>
    void Abandon();

    /// <summary>Asks the device whether it is still there.</summary>
    bool IsGone();
}
