using System.Diagnostics;
using System.Globalization;
using System.Runtime.InteropServices;
using Microsoft.Win32.SafeHandles;

namespace Cardassay.EndToEnd.Tests.Faults;

/// <summary>
/// Two network namespaces joined by a wire that this process carries packet by packet: late, lost, out of order, or not at all. The two ends
/// are TUN devices (kernel: Documentation/networking/tuntap), so what is faulty is the network and what copes with it is the
/// kernel's real TCP. tc with netem does the same where the kernel has it; this needs no module and repeats from its seed.
/// </summary>
internal sealed partial class FaultyLink : IDisposable
{
    /// <summary>Address of the board's end. Addresses of 127/8, because plain text is served on loopback addresses only.</summary>
    internal const string BoardAddress = "127.77.0.1";

    /// <summary>Address of the collector's end.</summary>
    internal const string CollectorAddress = "127.77.0.2";

    private readonly Lock _gate = new();
    private readonly PriorityQueue<(SafeFileHandle To, byte[] Packet), long> _onTheWay = new();
    private readonly SemaphoreSlim _moved = new(0);
    private readonly CancellationTokenSource _stop = new();
    private readonly Random _random;
    private readonly SafeFileHandle[] _ends;
    private readonly string _name = $"cd{Environment.ProcessId % 100_000}";

    internal FaultyLink(int seed)
    {
        _random = new Random(seed);
        _ends = [CreateEnd(0, Board, BoardAddress, CollectorAddress), CreateEnd(1, Collector, CollectorAddress, BoardAddress)];
        Start(() => Carry(_ends[0], _ends[1]));
        Start(() => Carry(_ends[1], _ends[0]));
        Start(Deliver);
    }

    /// <summary>True where namespaces and TUN devices can be made.</summary>
    internal static bool IsPossible => Environment.IsPrivilegedProcess && File.Exists("/dev/net/tun") && File.Exists("/usr/sbin/ip");

    internal string Board => _name + "b";

    internal string Collector => _name + "c";

    /// <summary>One way, ms; every packet takes a random time between this and 1.5 times this, so packets overtake each other.</summary>
    internal int DelayMs { get; set; }

    /// <summary>Share of the packets lost in each direction, 0 to 1.</summary>
    internal double Loss { get; set; }

    /// <summary>True loses everything: neither end learns anything of the other.</summary>
    internal bool IsCut { get; set; }

    internal long Carried { get; private set; }

    internal long Lost { get; private set; }

    /// <summary>Starts a program inside a namespace.</summary>
    internal static Running Start(string inside, string program, params string[] arguments) =>
        Running.Start("ip", ["netns", "exec", inside, program, .. arguments]);

    /// <summary>Whether a TCP connection is established in a namespace, as its own kernel sees it.</summary>
    internal static bool IsConnected(string inside) =>
        Running.Run("ip", "netns", "exec", inside, "ss", "-Htn", "state", "established").Expect(0).Output.Contains("127.77.0.", StringComparison.Ordinal);

    public void Dispose()
    {
        _stop.Cancel();
        Running.Run("ip", "netns", "delete", Board);
        Running.Run("ip", "netns", "delete", Collector);
        foreach (SafeFileHandle end in _ends)
        {
            end.Dispose();
        }
    }

    private static void Start(ThreadStart work) => new Thread(work) { IsBackground = true }.Start();

    private SafeFileHandle CreateEnd(int number, string inside, string own, string other)
    {
        string device = string.Create(CultureInfo.InvariantCulture, $"{_name}t{number}");
        SafeFileHandle end = File.OpenHandle("/dev/net/tun", FileMode.Open, FileAccess.ReadWrite, FileShare.ReadWrite);
        byte[] request = new byte[40]; // struct ifreq: name of 16 bytes, then the flags (linux/if.h)
        System.Text.Encoding.ASCII.GetBytes(device).CopyTo(request, 0);
        request[16] = 0x01; // IFF_TUN | IFF_NO_PI (linux/if_tun.h)
        request[17] = 0x10;
        if (IoControl(end, 0x400454CA, request) != 0) // TUNSETIFF
        {
            throw new InvalidOperationException($"no TUN device: error {Marshal.GetLastPInvokeError()}");
        }

        Running.Run("ip", "netns", "add", inside).Expect(0);
        Running.Run("ip", "link", "set", device, "netns", inside).Expect(0);
        Running.Run("ip", "-n", inside, "link", "set", device, "up").Expect(0);
        Running.Run("ip", "netns", "exec", inside, "sh", "-c",
            $"echo 1 > /proc/sys/net/ipv4/conf/all/route_localnet; echo 1 > /proc/sys/net/ipv4/conf/{device}/route_localnet; echo 0 > /proc/sys/net/ipv4/conf/all/rp_filter").Expect(0);
        Running.Run("ip", "-n", inside, "addr", "add", own, "peer", other, "dev", device).Expect(0);
        return end;
    }

    private void Carry(SafeFileHandle from, SafeFileHandle to)
    {
        byte[] buffer = new byte[65_536];
        try
        {
            while (!_stop.IsCancellationRequested)
            {
                int length = (int)Read(from, buffer, buffer.Length);
                if (length <= 0)
                {
                    return; // the namespace is gone
                }

                lock (_gate)
                {
                    if (IsCut || _random.NextDouble() < Loss)
                    {
                        Lost++;
                        continue;
                    }

                    Carried++;
                    double delay = DelayMs * (1 + (_random.NextDouble() / 2));
                    _onTheWay.Enqueue((to, buffer[..length]), Stopwatch.GetTimestamp() + (long)(delay * Stopwatch.Frequency / 1000));
                }

                _moved.Release();
            }
        }
        catch (ObjectDisposedException)
        {
            // The link is gone.
        }
    }

    private void Deliver()
    {
        try
        {
            while (!_stop.IsCancellationRequested)
            {
                long wait = 1_000;
                (SafeFileHandle To, byte[] Packet)? due = null;
                lock (_gate)
                {
                    if (_onTheWay.TryPeek(out (SafeFileHandle To, byte[] Packet) next, out long at))
                    {
                        wait = (at - Stopwatch.GetTimestamp()) * 1000 / Stopwatch.Frequency;
                        if (wait <= 0)
                        {
                            due = next;
                            _onTheWay.Dequeue();
                        }
                    }
                }

                if (due is { } packet)
                {
                    _ = Write(packet.To, packet.Packet, packet.Packet.Length); // a packet that cannot be given is a lost one
                }
                else
                {
                    _moved.Wait((int)Math.Clamp(wait, 1, 1_000));
                }
            }
        }
        catch (ObjectDisposedException)
        {
            // The link is gone.
        }
    }

    [LibraryImport("libc", EntryPoint = "ioctl", SetLastError = true)]
    private static partial int IoControl(SafeFileHandle file, nuint request, byte[] argument);

    [LibraryImport("libc", EntryPoint = "read")]
    private static partial nint Read(SafeFileHandle file, byte[] buffer, nint length);

    [LibraryImport("libc", EntryPoint = "write")]
    private static partial nint Write(SafeFileHandle file, byte[] buffer, nint length);
}
