using System.Collections.Concurrent;
using Cardassay.Agent.Delivery;
using Grpc.Core;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;

namespace Cardassay.Agent.Tests.Commands;

/// <summary>A collector's desk that answers what a test says, over a real connection. It acknowledges every run that is reported to it.</summary>
internal sealed class ScriptedDesk : V1.BoardDesk.BoardDeskBase, IAsyncDisposable
{
    private readonly Func<V1.Presence, IReadOnlyList<V1.FinishedDuty>, V1.Duty> _answer;
    private readonly Action<V1.Presence>? _running;
    private readonly ConcurrentDictionary<string, V1.FinishedDuty> _finished = new(StringComparer.Ordinal);
    private readonly WebApplication _server;

    private ScriptedDesk(Func<V1.Presence, IReadOnlyList<V1.FinishedDuty>, V1.Duty> answer, Action<V1.Presence>? running)
    {
        _answer = answer;
        _running = running;
        WebApplicationBuilder builder = WebApplication.CreateSlimBuilder();
        builder.Logging.ClearProviders();
        builder.WebHost.ConfigureKestrel(k => k.Listen(System.Net.IPAddress.Loopback, 0, l => l.Protocols = HttpProtocols.Http2));
        builder.Services.AddGrpc();
        builder.Services.AddSingleton(this);
        _server = builder.Build();
        _server.MapGrpcService<ScriptedDesk>();
    }

    /// <summary>The runs that were reported.</summary>
    public IReadOnlyList<V1.FinishedDuty> Finished => [.. _finished.Values.OrderBy(f => f.ScheduleId, StringComparer.Ordinal)];

    /// <summary>What the board said last, for a person.</summary>
    public V1.Presence? Last { get; private set; }

    /// <summary>Starts it.</summary>
    /// <param name="answer">What a board without a running run is told, from what it says and what it has reported so far.</param>
    /// <param name="running">Told what a board says during a run.</param>
    public static async Task<ScriptedDesk> StartAsync(Func<V1.Presence, IReadOnlyList<V1.FinishedDuty>, V1.Duty> answer, Action<V1.Presence>? running = null)
    {
        var desk = new ScriptedDesk(answer, running);
        await desk._server.StartAsync();
        return desk;
    }

    /// <summary>How a board reaches it.</summary>
    public CollectorLink Link() => CollectorLink.PlainText(new Uri(
        _server.Services.GetRequiredService<IServer>().Features.Get<IServerAddressesFeature>()!.Addresses.Single()));

    public override Task<V1.Duty> Check(V1.Presence request, ServerCallContext context)
    {
        Last = request;
        foreach (V1.FinishedDuty done in request.Finished)
        {
            _finished[done.ScheduleId] = done;
        }

        if (request.Progress is not null)
        {
            _running?.Invoke(request);
        }

        V1.Duty duty = request.Progress is null ? _answer(request, Finished) : new V1.Duty();
        duty.Acknowledged.AddRange(request.Finished.Select(f => $"{f.ScheduleId}/{f.RunNumber}"));
        return Task.FromResult(duty);
    }

    public async ValueTask DisposeAsync()
    {
        await _server.StopAsync();
        await _server.DisposeAsync();
    }
}
