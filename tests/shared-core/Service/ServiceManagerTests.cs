using Cardassay.Service;

namespace Cardassay.SharedCore.Tests.Service;

public class ServiceManagerTests
{
    private static readonly TimeSpan Long = TimeSpan.FromSeconds(30);

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Messages_ReachTheManagersSocket(bool isAbstract)
    {
        using var socket = new NotifySocket(isAbstract);
        ServiceManager manager = socket.Manager();
        manager.Ready("board harbour-1\nworks");
        manager.Alive();
        manager.Stopping();
        Assert.Equal("READY=1\nSTATUS=board harbour-1 works", socket.Next(Long));
        Assert.Equal("WATCHDOG=1", socket.Next(Long));
        Assert.Equal("STOPPING=1", socket.Next(Long));
    }

    [Theory]
    [InlineData("/run/x", "300000000", "", 300.0)]
    [InlineData("/run/x", "300000000", "77", 300.0)]
    [InlineData("/run/x", "300000000", "78", null)] // meant for another process
    [InlineData("/run/x", "0", "", null)]
    [InlineData("/run/x", "-5", "", null)]
    [InlineData("/run/x", "soon", "", null)]
    [InlineData("/run/x", null, "", null)]
    [InlineData(null, "300000000", "", null)]
    [InlineData("vsock:2:1234", "300000000", "", null)] // a kind of address that is not ours
    public void Watchdog_IsWhatTheEnvironmentSays(string? socket, string? microseconds, string pid, double? seconds)
    {
        var manager = ServiceManager.From(
            name => name switch { "NOTIFY_SOCKET" => socket, "WATCHDOG_USEC" => microseconds, "WATCHDOG_PID" => pid, _ => null }, 77);
        Assert.Equal(seconds, manager.Watchdog?.TotalSeconds);
    }

    [Fact]
    public void Messages_WithoutManagerOrWithOneThatIsGone_DoNoHarm()
    {
        ServiceManager.From(_ => null, 1).Ready("here");
        ServiceManager.From(name => name == "NOTIFY_SOCKET" ? "/nonexistent/socket" : null, 1).Alive();
    }
}
