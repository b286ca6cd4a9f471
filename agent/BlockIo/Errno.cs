using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

/// <summary>Error numbers of Linux that are told apart here (asm-generic/errno-base.h and errno.h; the same on x64 and arm64).</summary>
internal static class Errno
{
    internal const int NotPermitted = 1;
    internal const int NoEntry = 2;
    internal const int Interrupted = 4;
    internal const int InputOutput = 5;
    internal const int NoSuchDeviceOrAddress = 6;
    internal const int WouldBlock = 11;
    internal const int AccessDenied = 13;
    internal const int Busy = 16;
    internal const int NoDevice = 19;
    internal const int NotDirectory = 20;
    internal const int Invalid = 22;
    internal const int NotATerminal = 25;
    internal const int FileTooLarge = 27;
    internal const int NoSpace = 28;
    internal const int ReadOnlyFileSystem = 30;

    /// <summary>
    /// ENODATA; also what this program returns when a transfer ends before its length, because the medium became shorter.
    /// </summary>
    internal const int NoData = 61;

    internal const int NotSupported = 95;
    internal const int QuotaExceeded = 122;
    internal const int NoMedium = 123;

    /// <summary>True for errors that say the device itself is no longer there.</summary>
    internal static bool MeansGone(int errno) => errno is NoDevice or NoSuchDeviceOrAddress or NoMedium;

    /// <summary>The C library's text with the number.</summary>
    internal static string Text(int errno) => $"{Marshal.GetPInvokeErrorMessage(errno)} (error {errno})";
}
