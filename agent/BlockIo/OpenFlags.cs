using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

/// <summary>Flags of open(2): asm-generic/fcntl.h, and arch/arm64/include/uapi/asm/fcntl.h where ARM differs.</summary>
internal static class OpenFlags
{
    internal const int ReadOnly = 0;
    internal const int WriteOnly = 1;
    internal const int ReadWrite = 2;
    internal const int Create = 0x40;

    /// <summary>With <see cref="Create"/>: fail if it exists. On a block device: fail when it is mounted or otherwise held.</summary>
    internal const int Exclusive = 0x80;

    internal const int Truncate = 0x200;

    /// <summary>Opening a terminal does not make it ours.</summary>
    internal const int NoControllingTerminal = 0x100;

    /// <summary>Opening and reading never wait, for instance for the other end of a pipe.</summary>
    internal const int NonBlocking = 0x800;

    internal const int CloseOnExec = 0x80000;

    /// <summary>O_DIRECT, past the page cache; 0x4000 on x86, 0x10000 on ARM, where 0x4000 means a directory.</summary>
    internal static int Direct { get; } = DirectFor(RuntimeInformation.ProcessArchitecture);

    internal static int DirectFor(Architecture architecture) => architecture switch
    {
        Architecture.X64 or Architecture.X86 or Architecture.RiscV64 => 0x4000,
        Architecture.Arm64 or Architecture.Arm => 0x10000,
        _ =>
            throw new PlatformNotSupportedException($"The value of O_DIRECT on {architecture} is not known here; measure on arm64 or x64."),
    };
}
